#!/usr/bin/env python3
"""Runs the program once, or once for each of its commands, and compares with what a case expects.

usage: run_case.py PROGRAM CASE.toml

A case is a TOML file:
  args = ["weigh", "--dry", "5.00"]   words of the command line; {here} is the directory of the cases,
                                      {tmp} an empty directory that is removed again
  stdin = "..."                       what the program reads
  files = { "a.csv" = "..." }         files written into {tmp} first
  env = { HOME = "{tmp}" }            what is different in its environment; it runs in {tmp} then
  stdout_to = "/dev/full"             where the output goes instead of being compared
  exit = 0                            expected exit status (default 0)
  stdout = "..."                      the whole output, after masking; left out: any
  stdout_has = ["..."]                parts of the output, in any order
  stdout_lacks = ["..."]              what must not be there
  stdout_lines = 3                    number of lines
  stdout_width = 80                   longest line
  stderr_has = ["..."]                parts of the messages; left out: there must be none
  stderr_lacks = ["..."]              what must not be in the messages
  [json]                              paths into the JSON output and their values; a table with
  "density.bounded" = true            `low` and `high` is a range, `has` a part of a text
  json_null = ["worth"]               paths whose value must be null
  known_failure = "why"               the run must differ from what is expected; it turns red when mended
  every_help = true                   instead: --help of the program and of every command in it
  runs = [{args = [...], ...}, ...]   several runs in one case

Masked in both: the program's version as VERSION and the tables' checksum as CHECKSUM.
"""

import contextlib
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import tomllib

SECONDS = 60


class Differs(Exception):
    """The program did not do what the case expects."""


def run(program, arguments, stdin="", stdout_to=None, **where):
    with open(stdout_to, "wb") if stdout_to else contextlib.nullcontext(subprocess.PIPE) as target:
        return subprocess.run([program, *arguments], input=stdin.encode(), stdout=target, stderr=subprocess.PIPE,
                              timeout=SECONDS, check=False, **where)


def masked(text, version):
    text = re.sub(r'(tables |checksum": ")[0-9a-f]{8,16}\b', r"\1CHECKSUM", text, flags=re.IGNORECASE)
    return text.replace(version, "VERSION") if version else text


def value_at(document, path):
    for part in path.split("."):
        try:
            document = document[int(part)] if isinstance(document, list) else document[part]
        except (KeyError, IndexError, ValueError, TypeError):
            raise Differs(f"no {path} in the JSON") from None
    return document


def check_value(path, found, wanted):
    if isinstance(wanted, dict):
        if "has" in wanted:
            good = wanted["has"] in found
        else:
            good = wanted.get("low", float("-inf")) <= found <= wanted.get("high", float("inf"))
    else:
        good = found == wanted and isinstance(found, bool) == isinstance(wanted, bool)
    if not good:
        raise Differs(f"{path} is {found!r}, expected {wanted!r}")


def check_json(case, text):
    document = json.loads(text)
    for path, wanted in case.get("json", {}).items():
        check_value(path, value_at(document, path), wanted)
    for path in case.get("json_null", []):
        if value_at(document, path) is not None:
            raise Differs(f"{path} is not null")


def check_stdout(case, text):
    if "stdout" in case and text != case["stdout"]:
        raise Differs("the output is not the expected one")
    for part in case.get("stdout_has", []):
        if part not in text:
            raise Differs(f"the output lacks {part!r}")
    for part in case.get("stdout_lacks", []):
        if part in text:
            raise Differs(f"the output holds {part!r}")
    lines = text.splitlines()
    if "stdout_lines" in case and len(lines) != case["stdout_lines"]:
        raise Differs(f"the output has {len(lines)} lines, expected {case['stdout_lines']}")
    if "stdout_width" in case:
        for line in lines:
            if len(line) > case["stdout_width"]:
                raise Differs(f"this line has {len(line)} characters: {line}")
    if "json" in case or "json_null" in case:
        check_json(case, text)


def check_case(program, case, directory, version):
    with tempfile.TemporaryDirectory() as temporary:
        for name, content in case.get("files", {}).items():
            path = pathlib.Path(temporary) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode())
        arguments = [word.replace("{here}", directory).replace("{tmp}", temporary) for word in case["args"]]
        print("$ bilancetta", *arguments)
        where = {}
        if "env" in case:
            where["env"] = os.environ | {name: text.replace("{tmp}", temporary) for name, text in case["env"].items()}
            where["cwd"] = temporary
        done = run(program, arguments, case.get("stdin", ""), case.get("stdout_to"), **where)
    known = case.get("known_failure")
    text = masked((done.stdout or b"").decode(), version)
    messages = masked(done.stderr.decode(), version)
    try:
        if done.returncode != case.get("exit", 0):
            raise Differs(f"exit status {done.returncode}, expected {case.get('exit', 0)}")
        if "stderr_has" not in case and messages:
            raise Differs("there are messages on standard error")
        for part in case.get("stderr_has", []):
            if part not in messages:
                raise Differs(f"the messages lack {part!r}")
        for part in case.get("stderr_lacks", []):
            if part in messages:
                raise Differs(f"the messages hold {part!r}")
        check_stdout(case, text)
    except (Differs, json.JSONDecodeError) as trouble:
        if known:
            print(f"known failure: {known} ({trouble})")
            return True
        print(f"DIFFERS: {trouble}\n--- standard output\n{text}\n--- standard error\n{messages}")
        return False
    if known:
        print(f"MENDED: take known_failure out of this case ({known})")
    return not known


def check_help(program, words):
    """--help of a command and of all commands within it."""
    done = run(program, [*words, "--help"])
    text = done.stdout.decode()
    print("$ bilancetta", *words, "--help")
    if done.returncode != 0 or done.stderr or "--help" not in text:
        print(f"DIFFERS: exit status {done.returncode}\n{text}\n{done.stderr.decode()}")
        return 1, 1
    if types := re.findall(r"(?m)^  .*\b(?:FLOAT|U?INT|TEXT|BOOLEAN)\b.*$", text):
        print(f"DIFFERS: what follows an option is told as a type of the program: {types}")
        return 1, 1
    runs, failures = 1, 0
    listed = re.search(r"^Subcommands:\n((?:[ \t]+.*\n?)*)", text, re.MULTILINE)
    for line in listed.group(1).splitlines() if listed else []:
        name = re.match(r"  ([a-z][a-z-]*)\b", line)
        if name:
            more, bad = check_help(program, [*words, name.group(1)])
            runs, failures = runs + more, failures + bad
    return runs, failures


def main(arguments):
    if len(arguments) != 3:
        print(__doc__, file=sys.stderr)
        return 2
    program = str(pathlib.Path(arguments[1]).resolve())
    path = pathlib.Path(arguments[2])
    case = tomllib.loads(path.read_text())
    if case.get("every_help"):
        runs, failures = check_help(program, [])
        print(f"{runs} helps, {failures} differ")
        return 0 if failures == 0 and runs >= case.get("at_least", 1) else 1
    version = run(program, ["--version"]).stdout.decode().strip()
    runs = case.get("runs", [case])
    results = [check_case(program, one, str(path.parent.resolve()), version) for one in runs]
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv))
