//! JSON-RPC 2.0 (<https://www.jsonrpc.org/specification>), a message a line, and who speaks it.

mod fields;
mod hello;
mod message;
mod session;

pub(crate) use fields::{Answer, Fields, Null};
pub use hello::PROTOCOL;
pub(crate) use hello::{Hello, Introduction};
pub(crate) use message::{ErrorObject, TwoPointZero};
pub use session::Session;
