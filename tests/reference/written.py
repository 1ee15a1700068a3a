#!/usr/bin/env python3
"""Documents and ledgers against their JSON Schemas, by Python's jsonschema.

    pip install jsonschema
    cargo build --release
    python tests/reference/written.py target/release/dryturn FILE...

Each FILE is a ledger (.jsonl), or a document of --json. Schemas are what `dryturn schema` prints.
Prints how many lines and documents are as they should be; ends with 1 at the first that is not.
"""
import json, subprocess, sys
from jsonschema import Draft202012Validator

program, files = sys.argv[1], sys.argv[2:]


def validator(name):
    schema = json.loads(subprocess.run([program, "schema", name], capture_output=True, check=True).stdout)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


KINDS = {name: validator(name) for name in ("ledger", "document", "error", "manifest", "coco", "classes", "rig-plan")}
NAMED = {"manifest.json": "manifest", "coco-train.json": "coco", "coco-validation.json": "coco",
         "classes.json": "classes", "rig-plan.json": "rig-plan"}
counts = dict.fromkeys(KINDS, 0)
for file in files:
    text = open(file, encoding="utf-8").read()
    lines = text.splitlines() if file.endswith(".jsonl") else [text]
    for number, line in enumerate(lines, 1):
        own = json.loads(line)
        kind = "ledger" if file.endswith(".jsonl") else NAMED.get(file.rsplit("/", 1)[-1]) or (
            "document" if "document_version" in own else "error")
        for fault in KINDS[kind].iter_errors(own):
            sys.exit(f"{file}:{number}: {fault.json_path}: {fault.message[:300]}")
        counts[kind] += 1
print(", ".join(f"{count} {kind}" for kind, count in counts.items()))
