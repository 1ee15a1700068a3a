//! What several rooms solve, each kind of it once: least squares and the small dense matrices in
//! it, roots and minima of a function of one number, slopes by differences, values between
//! samples.
//!
//! Plain loops in a fixed order and no platform maths, so that the bits are the same on every
//! machine. Numbers have no unit here: a result is in the units of what was given. Matrices are
//! dense and small (a camera's lens with a hundred poses has 608 unknowns, most have 3 to 30);
//! a matrix of so many rows is a slice, row by row, unless its size is part of its type.
//!
//! ```
//! use dryturn_numerics::{NormalEquations, bisect_increasing};
//!
//! // The straight line a + b x through (0, 1), (1, 3) and (2, 5).
//! let mut line = NormalEquations::new(2);
//! for (x, y) in [(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)] {
//!     line.add(&[[1.0], [x]], [y]);
//! }
//! let found = line.solved().unwrap();
//! assert!((found[0] - 1.0).abs() < 1e-12 && (found[1] - 2.0).abs() < 1e-12);
//!
//! assert!((bisect_increasing(0.0, 2.0, |x| x * x - 2.0) - 2f64.sqrt()).abs() < 1e-15);
//! ```

mod cholesky;
mod descent;
mod differences;
mod eigen;
mod exponential;
mod interpolation;
mod median;
mod minimum;
mod normal;
pub mod regression;
mod roots;
mod two;

pub use cholesky::{Cholesky, dot};
pub use descent::{LeastSquares, Rules, descend};
pub use differences::{central_difference, slopes};
pub use eigen::{condition, symmetric_eigenvalues};
pub use exponential::{Matrix, exponential, times};
pub use interpolation::{between_pixels, on_line};
pub use median::upper_median;
pub use minimum::golden_section;
pub use normal::NormalEquations;
pub use roots::{bisect_increasing, bracket_increasing};
pub use two::Symmetric2;
