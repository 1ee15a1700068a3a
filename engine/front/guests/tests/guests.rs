//! Guests that do as they must, and guests that do not: processes in Python, which must be there.
#![cfg(unix)]

#[path = "guests/checked.rs"]
mod checked;
#[path = "guests/conversations.rs"]
mod conversations;
#[path = "guests/help.rs"]
mod help;
#[path = "guests/misbehaviour.rs"]
mod misbehaviour;
#[path = "guests/quickness.rs"]
mod quickness;
