#!/usr/bin/env python3
"""Runs docs/verify.py over many exports of a record, without starting Python anew for each.

Reads one JSON object a line: {"record": base64, "notes": base64}, the two files as `export record` writes them. Answers
each with one line: {"exit": code, "said": text}. The verifier runs as the program that it is, from its first line to its
exit code.
"""
import base64
import contextlib
import io
import json
import pathlib
import sys
import tempfile

VERIFIER = pathlib.Path(__file__).resolve().parents[2] / "docs" / "verify.py"


def run(program, arguments):
    """Exit code and output of the program with these arguments."""
    said = io.StringIO()
    sys.argv = [str(VERIFIER), *arguments]
    try:
        with contextlib.redirect_stdout(said):
            exec(program, {"__name__": "__main__", "__file__": str(VERIFIER)})
        code = 0
    except SystemExit as end:
        code = end.code or 0
    return {"exit": code, "said": said.getvalue()}


if __name__ == "__main__":
    try:
        import cryptography  # noqa: F401, what the verifier needs
    except ImportError as error:
        sys.exit(f"{sys.executable}: {error}")
    program = compile(VERIFIER.read_text(encoding="utf-8"), str(VERIFIER), "exec")
    with tempfile.TemporaryDirectory() as folder:
        record, notes = pathlib.Path(folder, "record.jsonl"), pathlib.Path(folder, "notes")
        for line in sys.stdin:
            asked = json.loads(line)
            record.write_bytes(base64.b64decode(asked["record"]))
            notes.write_bytes(base64.b64decode(asked["notes"]))
            print(json.dumps(run(program, [str(record), str(notes)])), flush=True)
