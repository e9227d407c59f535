#!/usr/bin/env python3
"""What `batch` does with large, growing and broken streams, signals, terminals and shards.

usage: batch_streams.py PROGRAM [unittest words, such as Stops]
"""

import fcntl
import json
import os
import pathlib
import pty
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM = ""
HEADER = "piece,dry_g,rise_g,mixed,note\n"
SECONDS = 120


def quick_rows(count, first=0):
    """Rows that cost next to nothing to work on: no weight, so an error each."""
    return "".join(f"p{i},,,,note {i}\n" for i in range(first, first + count))


class Case(unittest.TestCase):
    def setUp(self):
        self.directory = pathlib.Path(tempfile.mkdtemp())
        self.addCleanup(shutil.rmtree, self.directory)

    def file(self, name, text):
        path = self.directory / name
        path.write_text(text, newline="")
        return path

    def batch(self, *words, stdin=subprocess.DEVNULL, **more):
        return subprocess.run([PROGRAM, "batch", *words], stdin=stdin, capture_output=True, timeout=SECONDS, check=False,
                              **more)


class Large(Case):
    def peak_kb(self, path):
        """Peak memory of a run."""
        with open(self.directory / "out", "wb") as out:
            child = subprocess.Popen([PROGRAM, "batch", path, "--threads", "2"], stdout=out, stderr=subprocess.DEVNULL)
            _, status, usage = os.wait4(child.pid, 0)
            child.returncode = os.waitstatus_to_exitcode(status)
        self.assertEqual(child.returncode, 1)
        return usage.ru_maxrss

    def test_memory_is_the_same_for_ten_times_as_many_rows_and_every_row_is_answered(self):
        peaks = []
        for rows in (100_000, 1_000_000):
            good = rows // 2
            path = self.file("big.csv", HEADER + quick_rows(good) + "good,5.00,0.48,,\n" + quick_rows(rows - good - 1, good + 1))
            peaks.append(self.peak_kb(path))
            with open(self.directory / "out", encoding="utf-8") as out:
                for number, line in enumerate(out, -1):
                    if number == good:
                        self.assertTrue(line.startswith("good,ok,10.4"), line)
                    elif number >= 0:
                        self.assertTrue(line.startswith(f"p{number},error,"), line)
                self.assertEqual(number, rows - 1)
        self.assertLess(peaks[1], peaks[0] * 1.1 + 4000, peaks)

    def test_a_file_that_grows_is_read_to_the_end_it_has_then(self):
        path = self.file("growing.csv", HEADER + quick_rows(300_000))
        with open(path, "a", encoding="utf-8") as grows, subprocess.Popen(
                [PROGRAM, "batch", path, "--scale", "pocket"], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                bufsize=0) as child:  # communicate() would lose what a buffer holds
            child.stdout.readline()  # it has begun, and cannot end: the pipe is full long before
            grows.write(quick_rows(1000, 300_000))
            grows.flush()
            lines = child.communicate(timeout=SECONDS)[0].decode().splitlines()
        self.assertEqual(child.returncode, 1)
        self.assertEqual([line.split(",")[0] for line in lines], [f"p{i}" for i in range(301_000)])


class Files(Case):
    def test_out_appears_whole_and_its_part_is_gone(self):
        source = self.file("jar.csv", HEADER + "a,5.00,0.48,,\nb,4.21,0.42,,\n")
        out = self.directory / "named.csv"
        done = self.batch(source, "--out", out)
        self.assertEqual((done.returncode, done.stdout, done.stderr), (0, b"", b""))
        self.assertEqual(out.read_bytes(), self.batch(source).stdout)
        self.assertEqual(sorted(p.name for p in self.directory.iterdir()), ["jar.csv", "named.csv"])
        again = self.batch(source, "--carry-on", out)
        self.assertEqual(again.returncode, 2)
        self.assertIn(b"finished", again.stderr)

    def test_half_a_row_is_cut_off_and_done_again(self):
        source = self.file("jar.csv", HEADER + 'a,5.00,0.48,,"two\nlines"\nb,4.21,0.42,,\n')
        whole = self.batch(source).stdout
        out, part = self.directory / "named.csv", self.directory / "named.csv.part"
        for cut in (0, 10, whole.index(b"two\n") + 4, whole.index(b'"\nb,') + 2, len(whole) - 1):
            part.write_bytes(whole[:cut])
            out.unlink(missing_ok=True)
            done = self.batch(source, "--carry-on", out)
            self.assertEqual((done.returncode, done.stderr), (0, b""), cut)
            self.assertEqual(out.read_bytes(), whole, cut)
            self.assertFalse(part.exists())

    def test_what_would_spoil_a_file_is_refused(self):
        source = self.file("jar.csv", HEADER + "a,5.00,0.48,,\n")
        part = self.file("left.csv.part", "piece,other\n")
        settings = self.file("bench.toml", "water_c = 21\n")
        (self.directory / "link.csv").symlink_to(source)
        cases = [(("--out", source), "input and output"), (("--out", self.directory / "link.csv"), "input and output"),
                 (("--out", self.directory / "none" / "x.csv"), "No such file"), (("--out", self.directory), "plain file"),
                 (("--out", "/proc/x.csv"), "cannot be written"), (("--out", "/dev/null"), "plain file"),
                 (("--out", self.directory / "left.csv"), "--carry-on"),
                 (("--carry-on", self.directory / "left.csv"), "columns"),
                 (("--carry-on", self.directory / "left.csv", "--json"), "columns"),
                 (("--out", "a.csv", "--carry-on", "b.csv"), "--carry-on"),
                 (("--out", self.directory / "c.csv", "--summary", self.directory / "c.csv.part"), "file of the rows"),
                 (("--out", settings, "--settings", settings), "input and output")]
        for words, says in cases:
            if "--json" in words:
                part.write_text("piece,other\nrow,1\n")
                says = "no JSON"
            done = self.batch(source, *words)
            self.assertEqual((done.returncode, done.stdout), (2, b""), words)
            self.assertIn(says, done.stderr.decode(), words)
            self.assertEqual(source.read_text(), HEADER + "a,5.00,0.48,,\n")
        # A refused input leaves no empty part behind.
        bad = self.file("bad.csv", "nothing,known\n")
        self.assertEqual(self.batch(bad, "--out", self.directory / "new.csv").returncode, 2)
        self.assertFalse((self.directory / "new.csv.part").exists())

    def test_two_runs_never_write_one_file(self):
        source = self.file("jar.csv", HEADER + "a,5.00,0.48,,\n")
        out, part = self.directory / "named.csv", self.file("named.csv.part", "")
        with open(part, "ab") as held:
            fcntl.flock(held, fcntl.LOCK_EX)
            done = self.batch(source, "--carry-on", out)
            self.assertEqual(done.returncode, 2)
            self.assertIn(b"another run", done.stderr)
        self.assertEqual(self.batch(source, "--carry-on", out).returncode, 0)

    def test_streams_that_are_closed_are_told(self):
        for words, closed in (("batch -", 0), ("weigh --dry 5.00 --rise 0.48", 1), ("--version", 1)):
            done = subprocess.run(["sh", "-c", f'exec "$0" {words} {closed}<&-', PROGRAM], stdin=subprocess.DEVNULL,
                                  capture_output=True, timeout=SECONDS, check=False)
            self.assertEqual(done.returncode, 2, words)
            self.assertNotEqual(done.stderr, b"", words)

    def test_a_reader_that_has_gone_ends_every_command_alike(self):
        for words in ("weigh --dry 5.00 --rise 0.48", "tables list", "plan"):
            done = subprocess.run(["bash", "-c", f'"$0" {words} | true; echo ${{PIPESTATUS[0]}}', PROGRAM],
                                  capture_output=True, timeout=SECONDS, check=False)
            self.assertIn(done.stdout.split(), ([b"0"], [b"2"]), words)  # small texts may fit into the pipe
            self.assertEqual(done.stderr, b"", words)

    def test_a_quota_is_told_and_leaves_whole_rows(self):
        source = self.file("jar.csv", HEADER + quick_rows(3000))
        out = self.directory / "named.csv"
        done = self.batch(source, "--out", out,
                          preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000)))
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"--carry-on", done.stderr)

    def test_rows_that_cannot_be_judged_say_nothing_of_the_scale(self):
        rows = self.file("one.csv", HEADER + "b,5.00,0.50,,\n")
        with_bad = self.file("two.csv", HEADER + "a,-5.00000,0.50,,\nb,5.00,0.50,,\n")
        self.assertEqual(self.batch(rows).stdout.splitlines()[1], self.batch(with_bad).stdout.splitlines()[2])

    def test_commas_and_points_in_one_row_are_refused(self):
        done = self.batch(self.file("jar.csv", "piece;dry_g;rise_g\na;1.005;0,050\nb;5,00;0,48\nc;5.00;0.48\n"))
        self.assertEqual(done.returncode, 1)
        rows = done.stdout.decode().splitlines()
        self.assertIn("decimal commas and points", rows[1])
        self.assertTrue(rows[2].startswith("b,ok") and rows[3].startswith("c,ok"), rows)

    def test_a_full_disk_is_told_and_the_whole_rows_can_be_gone_on_with(self):
        source = self.file("jar.csv", HEADER + quick_rows(3000))
        out = self.directory / "named.csv"

        def little_room():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # the write fails as on a full disk
            resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))

        done = self.batch(source, "--out", out, preexec_fn=little_room)
        self.assertEqual(done.returncode, 2)
        self.assertIn("--carry-on", done.stderr.decode())
        self.assertFalse(out.exists())
        self.assertEqual(self.batch(source, "--carry-on", out).returncode, 1)
        self.assertEqual(out.read_bytes(), self.batch(source).stdout)

    def test_a_summary_tells_only_of_rows_that_are_all_there(self):
        source = self.file("jar.csv", HEADER + "a,5.00,0.48,,\nb,4.21,0.42,,\n")
        summary = self.directory / "s.txt"
        with open("/dev/full", "wb") as full:
            done = subprocess.run([PROGRAM, "batch", source, "--summary", summary], stdout=full, stderr=subprocess.PIPE,
                                  timeout=SECONDS, check=False)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"could not be written", done.stderr)
        many = self.file("many.csv", HEADER + quick_rows(100_000))
        with subprocess.Popen([PROGRAM, "batch", many, "--summary", summary], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE) as child:
            child.stdout.read(100)
            child.stdout.close()
            messages = child.stderr.read()
            self.assertEqual((child.wait(SECONDS), messages), (2, b""))
        self.assertEqual(sorted(p.name for p in self.directory.iterdir()), ["jar.csv", "many.csv"])
        self.assertEqual(self.batch(source, "--out", self.directory / "o.csv", "--summary", summary).returncode, 0)
        self.assertEqual(sorted(p.name for p in self.directory.iterdir()), ["jar.csv", "many.csv", "o.csv", "s.txt"])

    def test_a_summary_that_does_not_fit_on_the_disk_is_told_and_gets_no_name(self):
        source = self.file("jar.csv", HEADER + "a,5.00,0.48,,\n")
        summary = self.directory / "s.json"

        def little_room():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (600, 600))

        done = self.batch(source, "--summary", summary, preexec_fn=little_room)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"s.json.part", done.stderr)
        self.assertFalse(summary.exists())

    def test_a_lot_in_another_encoding_spoils_no_summary(self):
        source = self.directory / "jar.csv"
        source.write_bytes(b"piece,dry_g,rise_g,lot\na,5.00,0.48,caf\xe9\n")
        out, summary = self.directory / "o.csv", self.directory / "s.json"
        done = self.batch(source, "--out", out, "--summary", summary)
        self.assertEqual((done.returncode, done.stdout, done.stderr), (0, b"", b""))
        self.assertTrue(out.exists())
        self.assertEqual(json.loads(summary.read_text(encoding="utf-8"))["lots"][0]["lot"], "caf\ufffd")

    def test_a_stream_that_cannot_be_read_twice_leaves_nothing_behind(self):
        out = self.directory / "z.csv"
        for words in (("--sitting", "--scale", "pocket"), ("--learn",)):
            with subprocess.Popen([PROGRAM, "batch", "-", *words, "--out", out], stdin=subprocess.PIPE,
                                  stderr=subprocess.PIPE) as child:
                messages = child.communicate((HEADER + "a,5.00,0.48,,\n").encode(), SECONDS)[1]
            self.assertEqual(child.returncode, 2)
            self.assertIn(b"give a file", messages)
            self.assertEqual(list(self.directory.iterdir()), [])

    def test_json_is_told_from_a_csv_by_its_first_line(self):
        source = self.file("jar.csv", HEADER + "a,5.00,0.48,,\n{b,4.21,0.42,,\n5\" c,4.21,0.42,,\n")
        out, part = self.directory / "named.csv", self.directory / "named.csv.part"
        whole = self.batch(source).stdout
        part.write_bytes(whole[:whole.rindex(b"\n", 0, -1) + 1])  # the last row that is done begins with {
        done = self.batch(source, "--carry-on", out)
        self.assertEqual((done.returncode, done.stderr), (0, b""))
        self.assertEqual(out.read_bytes(), whole)
        # An odd number of quotation marks in a line of JSON: read as a CSV it would hold no whole row.
        out.unlink()
        lines = b'{"piece":"5\\" c"}\n'
        part.write_bytes(lines)
        done = self.batch(source, "--carry-on", out)
        self.assertEqual(done.returncode, 2)
        self.assertIn(b"give --json", done.stderr)
        self.assertEqual(part.read_bytes(), lines)

    def test_threads_that_the_system_does_not_start_are_done_without(self):
        def little_memory():
            resource.setrlimit(resource.RLIMIT_AS, (1_500_000_000, 1_500_000_000))

        if subprocess.run([PROGRAM, "--version"], capture_output=True, check=False, preexec_fn=little_memory).returncode:
            self.skipTest("this program needs more memory than that to begin with")
        rows = "".join(f"p{i},{5 + 0.01 * i:.2f},0.{48 + i % 20},,\n" for i in range(400))
        source = self.file("jar.csv", HEADER + rows)
        done = self.batch(source, "--threads", "256", preexec_fn=little_memory,
                          env=os.environ | {"MALLOC_ARENA_MAX": "2"})  # memory goes to the stacks of threads
        self.assertEqual((done.returncode, done.stderr), (0, b""))
        self.assertEqual(done.stdout, self.batch(source).stdout)

    def test_a_reader_that_has_seen_enough_is_no_trouble(self):
        source = self.file("jar.csv", HEADER + quick_rows(100_000))
        with subprocess.Popen([PROGRAM, "batch", source], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
            child.stdout.readline()
            child.stdout.close()
            messages = child.stderr.read()
            self.assertEqual((child.wait(SECONDS), messages), (2, b""))


class Stops(Case):
    def test_ctrl_c_while_it_waits_for_rows(self):
        with subprocess.Popen([PROGRAM, "batch", "-"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE) as child:
            child.stdin.write((HEADER + "a,5.00,0.48,,\nb,-1,0.48,,\nhalf,5.0").encode())
            child.stdin.flush()
            lines = [child.stdout.readline() for _ in range(3)]  # they come out without waiting for more
            child.send_signal(signal.SIGINT)
            messages = child.stderr.read().decode()
            self.assertEqual(child.wait(SECONDS), 130)
            self.assertEqual(child.stdout.read(), b"")
        self.assertTrue(lines[2].startswith(b"b,error,"))
        self.assertIn("stopped after 2 rows", messages)

    def test_ctrl_c_before_there_is_anything(self):
        with subprocess.Popen([PROGRAM, "batch", "-"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE) as child:
            child.stdin.write(b"piece,dry_g")
            child.stdin.flush()
            time.sleep(1.0)  # by then it waits for the rest
            child.send_signal(signal.SIGINT)
            self.assertIn(b"stopped", child.stderr.read())
            self.assertEqual(child.wait(SECONDS), 130)
            self.assertEqual(child.stdout.read(), b"")

    def test_a_stopped_run_is_gone_on_with(self):
        source = self.file("jar.csv", HEADER + quick_rows(400_000))
        out, part = self.directory / "named.csv", self.directory / "named.csv.part"
        with subprocess.Popen([PROGRAM, "batch", source, "--out", out], stderr=subprocess.PIPE) as child:
            while child.poll() is None and not (part.exists() and part.stat().st_size > 100_000):
                time.sleep(0.01)
            child.send_signal(signal.SIGTERM)
            messages = child.stderr.read().decode()
            self.assertEqual(child.wait(SECONDS), 143)
        self.assertIn(f"--carry-on {out}", messages)
        whole = self.batch(source).stdout
        left = part.read_bytes()
        self.assertTrue(whole.startswith(left) and left.endswith(b"\n"))
        rows = left.count(b"\n") - 1
        self.assertIn(f"stopped after {rows} rows", messages)
        self.assertEqual(self.batch(source, "--carry-on", out).returncode, 1)
        self.assertEqual(out.read_bytes(), whole)

    def test_what_needs_every_row_is_told_to_begin_anew(self):
        source = self.file("jar.csv", HEADER + quick_rows(400_000))
        for option in (["--sitting"], ["--learn"], ["--summary", self.directory / "jar.txt"]):
            with self.subTest(option=option[0]):
                out, part = self.directory / "named.csv", self.directory / "named.csv.part"
                command = [PROGRAM, "batch", source, "--out", out, *option]
                with subprocess.Popen(command, stderr=subprocess.PIPE) as child:
                    while child.poll() is None and not (part.exists() and part.stat().st_size > 100_000):
                        time.sleep(0.01)
                    child.send_signal(signal.SIGINT)
                    messages = child.stderr.read().decode()
                    self.assertEqual(child.wait(SECONDS), 130)
                self.assertNotIn("--carry-on", messages)
                self.assertIn(f"stay in {part}. {option[0]} needs every row, so it must begin anew", messages)
                # What the message says does it.
                part.unlink()
                self.assertEqual(self.batch(source, "--out", out, *option).returncode, 1)
                out.unlink()


class Progress(Case):
    def messages_on_terminal(self, rows):
        source = self.file("jar.csv", HEADER + quick_rows(rows))
        ours, theirs = pty.openpty()
        with subprocess.Popen([PROGRAM, "batch", source, "--threads", "1"], stdout=subprocess.DEVNULL, stderr=theirs) as child:
            os.close(theirs)
            text = b""
            start = time.monotonic()
            while time.monotonic() - start < SECONDS:
                try:
                    got = os.read(ours, 4096)
                except OSError:  # the other end is closed
                    break
                if not got:
                    break
                text += got
            child.wait(SECONDS)
            taken = time.monotonic() - start
        os.close(ours)
        return text.decode(), taken

    def test_a_terminal_sees_one_line_that_is_erased_at_the_end(self):
        text, taken = self.messages_on_terminal(600_000)
        shown, erased, rest = text.rpartition("\r\x1b[K")
        updates = shown.count("a second")
        self.assertGreaterEqual(updates, 1, text)
        self.assertLessEqual(updates, 5 * taken + 1)
        self.assertIn(" left", shown)
        self.assertNotIn("\n", shown)
        self.assertTrue(erased)
        self.assertEqual(rest.strip(), "bilancetta: 600000 of 600000 rows could not be used; see their message column")


class Shards(Case):
    def test_eight_shards_under_gnu_parallel_give_what_one_run_gives(self):
        rng = random.Random(20240601)
        rows = []
        for i in range(160):
            dry = rng.uniform(1.0, 9.0)
            place = rng.choice(("relay", "breaker", ""))
            rows.append(f"p{i},{dry:.2f},{dry / rng.uniform(7.5, 14.0):.{rng.choice((1, 2))}f},{place}\n")
        source = self.file("jar.csv", "piece,dry_g,rise_g,found\n" + "".join(rows))
        one = self.batch(source, "--scale", "pocket")
        self.assertEqual((one.returncode, one.stderr), (0, b""))
        command = (f"parallel --will-cite --pipe --keep-order --header : -j 2 -N 20 "
                   f"'{PROGRAM} batch - --scale pocket --threads 1 | if [ {{#}} -eq 1 ]; then cat; else tail -n +2; fi' <{source}")
        shards = subprocess.run(["sh", "-c", command], capture_output=True, timeout=SECONDS, check=False)
        self.assertEqual((shards.returncode, shards.stderr), (0, b""))
        self.assertEqual(shards.stdout.decode(), one.stdout.decode())


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
    unittest.main(argv=[sys.argv[0], *sys.argv[2:]])
