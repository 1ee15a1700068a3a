//! What the reference says of the ledger.

pub(super) const LEDGER: &str = "
## The ledger

`ledger.jsonl` holds one JSON object a line, one line a stage: what was run, each scene as it was
used, scans by their digests, readings, scores, plans, executions, drills and what was expected.
Each has `stage`, and `ledger_version`, which a change of any key's meaning makes another. Nothing
in it depends on the clock, the machine or the thread count.

Every key has its meaning in [`engine/front/record/README.md`](../engine/front/record/README.md);
`dryturn schema ledger` prints the same as a JSON Schema.
";
