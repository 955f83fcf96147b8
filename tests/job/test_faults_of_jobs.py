"""Every kind of fault of a job file, with a layout that is right: the place, the words, the way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.made import told

RECORDS = "records: {file: people.csv}"


def test_what_is_right_has_no_fault(tmp_path: Path) -> None:
    assert told(tmp_path) == []


JOBS: list[tuple[str, str, list[str]]] = [
    (
        "unknown-key",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nresolutoin: 600\n",
        ["job.yaml:4:1: unknown key 'resolutoin' (did you mean 'resolution'?)"],
    ),
    (
        "unknown-key-in-records",
        "job: T\nlayout: layout.yaml\nrecords:\n  file: a.csv\n  fields:\n    x: {requird: true}\n",
        ["job.yaml:6:9: unknown key 'requird' (did you mean 'required'?)"],
    ),
    (
        "unknown-key-in-series",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nseries: {{main: {{width: 3, prefex: A}}}}\n",
        ["job.yaml:4:27: unknown key 'prefex' (did you mean 'prefix'?)"],
    ),
    (
        "nothing-like-it",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nqqqq: 1\n",
        ["job.yaml:4:1: unknown key 'qqqq'"],
    ),
    (
        "missing",
        "job: T\n",
        ["job.yaml:1:1: 'layout' is missing", "job.yaml:1:1: 'records' is missing"],
    ),
    ("empty", "", ["job.yaml:1:1: the file is empty"]),
    ("not-a-mapping", "[a]\n", ["job.yaml:1:1: must be a mapping, not a list"]),
    ("a-text", "hello\n", ["job.yaml:1:1: must be a mapping, not 'hello'"]),
    (
        "number-for-text",
        f"job: 007\nlayout: layout.yaml\n{RECORDS}\n",
        ["job.yaml:1:6: 'job': must be text, and 007 without quotes is not (write '007' in quotes)"],
    ),
    (
        "nothing-for-text",
        f"job:\nlayout: layout.yaml\n{RECORDS}\n",
        ["job.yaml:1:1: 'job': must be text, not nothing"],
    ),
    (
        "mapping-for-text",
        f"job: {{a: b}}\nlayout: layout.yaml\n{RECORDS}\n",
        ["job.yaml:1:6: 'job': must be text, not a mapping"],
    ),
    (
        "no-text",
        f'job: ""\nlayout: layout.yaml\n{RECORDS}\n',
        ["job.yaml:1:6: 'job': must not be empty"],
    ),
    (
        "too-long-a-text",
        f"job: {'x' * 81}\nlayout: layout.yaml\n{RECORDS}\n",
        ["job.yaml:1:6: 'job': has more than 80 characters"],
    ),
    (
        "choices",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nset_aside: stopp\n",
        ["job.yaml:4:12: 'set_aside': must be stop or continue, not 'stopp' (did you mean 'stop'?)"],
    ),
    (
        "bounds",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nresolution: 100\n",
        ["job.yaml:4:13: 'resolution': must be at least 300, not '100'"],
    ),
    (
        "whole-number",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nresolution: 600.5\n",
        ["job.yaml:4:13: 'resolution': must be a whole number, not '600.5'"],
    ),
    (
        "yes-is-a-text-in-yaml-1.2",
        "job: T\nlayout: layout.yaml\nrecords: {file: a.csv, fields: {x: {required: yes}}}\n",
        ["job.yaml:3:47: 'required': must be true or false, not 'yes'"],
    ),
    (
        "true-is-no-number",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nseries: {{main: {{width: true}}}}\n",
        ["job.yaml:4:24: 'width': must be a whole number, not 'true'"],
    ),
    (
        "check-scheme",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nseries: {{main: {{width: 3, check: mod97}}}}\n",
        [
            (
                "job.yaml:4:34: 'check': must be none, mod11_2, mod37_2, mod97_10, mod661_26, mod1271_36, "
                "mod11_10, mod27_26, mod37_36, luhn, gs1, damm, verhoeff, upu_s10, code39_mod43 or icao_731, "
                "not 'mod97' (did you mean 'mod97_10'?)"
            )
        ],
    ),
    (
        "name-of-a-series",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nseries:\n  my-number: {{width: 3}}\n",
        [
            (
                "job.yaml:5:3: 'my-number': 'my-number' cannot be a name "
                "(letters, digits and _, a letter first, 40 characters at most)"
            )
        ],
    ),
    (
        "prefix-that-cannot-be-printed",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nseries: {{main: {{width: 3, prefix: A B}}}}\n",
        [("job.yaml:4:35: 'prefix': 'A B' is not up to 20 printable ASCII characters without spaces, and no template")],
    ),
    (
        "spot-like-a-process-plate",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nspots:\n  black: {{}}\n  None: {{}}\n",
        [
            "job.yaml:5:3: 'black' is a process plate and cannot be a spot",
            "job.yaml:6:3: 'None' means something else in a PDF and cannot be a spot",
        ],
    ),
    (
        "spot-shown-as",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nspots: {{Clear: {{shown_as: [0, 101, 0]}}}}\n",
        [
            "job.yaml:4:27: 'shown_as': there are too few values",
            "job.yaml:4:31: 'shown_as': must be at most 100, not '101'",
        ],
    ),
    (
        "locale",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nlocales: {{no: nbb, de: de-CH, x: 3}}\n",
        [
            "job.yaml:4:15: there is no locale 'nbb' (did you mean 'nb'?)",
            "job.yaml:4:34: 'x': must be text, and 3 without quotes is not (write '3' in quotes)",
        ],
    ),
    (
        "locale-of-no-language",
        (
            "job: T\nlayout: layout.yaml\nrecords:\n  file: a.csv\n  language: l\n  fields: {l: {one_of: [en, el]}}\n"
            "locales: {ell: el}\n"
        ),
        ["job.yaml:7:11: 'ell' is none of the languages of field 'l' (did you mean 'el'?)"],
    ),
    (
        "date",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\ndate: 9 March 2026\n",
        ["job.yaml:4:7: 'date': '9 March 2026' is not a date such as 2026-03-09 or 2026-03-09T08:00:00Z"],
    ),
    (
        "day-that-is-not",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\ndate: 2026-02-30\n",
        ["job.yaml:4:7: 'date': '2026-02-30' is not a date such as 2026-03-09 or 2026-03-09T08:00:00Z"],
    ),
    (
        "face-file",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\nfaces: {{one: job.yaml, two: ../a.ttf}}\n",
        [
            "job.yaml:4:14: 'job.yaml' is not a TrueType or OpenType font file",
            "job.yaml:4:29: '../a.ttf' leads out of the job's folder",
        ],
    ),
    (
        "profile",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\ncolour: {{profile: press.icc}}\n",
        ["job.yaml:4:19: 'press.icc' is not there"],
    ),
    (
        "records-elsewhere",
        "job: T\nlayout: layout.yaml\nrecords: {file: ../people.csv}\n",
        ["job.yaml:3:17: the records '../people.csv' leads out of the job's folder"],
    ),
    (
        "records-above-the-demo",
        "job: T\nlayout: layout.yaml\nrecords: {file: ../../demo_records/../people.csv}\n",
        ["job.yaml:3:17: the records '../../demo_records/../people.csv' leads out of the job's folder"],
    ),
    (
        "layout-missing",
        f"job: T\nlayout: other.yaml\n{RECORDS}\n",
        ["job.yaml:2:9: the layout 'other.yaml' is not there"],
    ),
    (
        "layout-elsewhere",
        f"job: T\nlayout: /etc/passwd\n{RECORDS}\n",
        ["job.yaml:2:9: the layout '/etc/passwd' is not relative to the job's folder"],
    ),
    (
        "pattern-that-is-none",
        "job: T\nlayout: layout.yaml\nrecords: {file: a.csv, fields: {x: {pattern: '['}}}\n",
        ["job.yaml:3:46: 'pattern': not a regular expression: unterminated character set at position 0"],
    ),
    (
        "union",
        "job: T\nlayout: layout.yaml\nrecords: {file: a.csv, fields: {x: {fake: 5}}}\n",
        ["job.yaml:3:43: 'fake': must be text, and 5 without quotes is not (write '5' in quotes)"],
    ),
    (
        "shape",
        "job: T\nlayout: layout.yaml\nrecords: {file: a.csv, recipient: name, fields: [a]}\nspots: 3\nlocales: [a]\n",
        [
            "job.yaml:3:35: 'recipient': must be a list, not 'name'",
            "job.yaml:3:49: 'fields': must be a mapping, not a list",
            "job.yaml:4:8: 'spots': must be a mapping, not '3'",
            "job.yaml:5:10: 'locales': must be a mapping, not a list",
        ],
    ),
    (
        "twice",
        f"job: T\nlayout: layout.yaml\n{RECORDS}\njob: U\n",
        ["job.yaml:4:1: 'job' stands here a second time (first on line 1) (take one out)"],
    ),
    ("syntax", "job: 'T\n", ["job.yaml:2:1: not YAML: found unexpected end of stream"]),
]


@pytest.mark.parametrize(("job", "expected"), [case[1:] for case in JOBS], ids=[case[0] for case in JOBS])
def test_faults_of_a_job(tmp_path: Path, job: str, expected: list[str]) -> None:
    layout = "trim: [9 mm, 9 mm]\nfront: []\nback: []\n"
    assert told(tmp_path, job, layout) == expected
