//! What a script expected.

/// One `expect` of a script.
#[derive(Clone, Debug, PartialEq)]
pub struct Expectation {
    /// What was expected, in the script's words.
    pub message: String,
    /// Whether it held.
    pub held: bool,
    /// The figures, for instance `97, wanted at least 98`.
    pub figures: String,
    /// Line in the script, from 1.
    pub line: Option<usize>,
}
