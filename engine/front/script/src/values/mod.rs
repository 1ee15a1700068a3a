//! Values between the language and the verbs: what scripts hold, give and are answered.

pub(crate) mod answers;
pub(crate) mod arguments;
pub(crate) mod handles;
pub(crate) mod learnt;
pub(crate) mod texts;
