//! What every other crate of Dryturn counts with: maths that gives the same
//! bits on every platform, seeded noise that is a pure function of its name,
//! colour values that carry their encoding in their type, and tables as text.
//!
//! ```
//! use dryturn_units::{colour, noise::Seed};
//!
//! let seed = Seed::new(7);
//! let a = seed.stream("sensor", 0, 12).gaussian();
//! let b = seed.stream("sensor", 0, 12).gaussian();
//! assert_eq!(a.to_bits(), b.to_bits()); // same name, same draw
//! assert_eq!(colour::encode_srgb8(1.0), 255);
//! ```

pub mod colour;
mod lab;
pub mod maths;
pub mod noise;
pub mod stop;
pub mod table;

pub use lab::{Lab, Xyz};
pub use maths::{degrees, radians};
