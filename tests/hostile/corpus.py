"""What a pull request may bring that means ill: workspaces by name, each laid over the smallest one that passes."""

# ruff: noqa: E501, PTH - a nasty word is read whole; a name that is no UTF-8 is bytes, which pathlib does not take
from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from formula_vcs.model.content_hash import content_hash
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.conftest import MINIMAL

CREAM: Final = MINIMAL["cream.toml"]
GLYCERIN: Final = MINIMAL["ingredients/glycerin.toml"]


def _hash() -> str:
    snapshot = Snapshot(Files(dict(MINIMAL)))
    (recipe,) = snapshot.recipes()
    return content_hash(recipe, {})


# "@base@" becomes the id of the commit that holds the smallest workspace.
BATCH: Final = f"""\
recipe  = "cream"
commit  = "@base@"
hash    = "{_hash()}"
size    = "1 kg"
date    = 2026-03-04
made_by = "Una"
made    = "980 g"

[phase.A.charge]
water    = {{ target = "950.00 g", weighed = "950.10 g", lot = "water-1" }}
glycerin = {{ target = "50.00 g", weighed = "50.20 g", lot = "glycerin-1" }}

[[step]]
id      = "mix"
target  = {{ shear = "low" }}
started = 2026-03-04T09:30:00
ended   = 2026-03-04T09:40:00

[result]
pH        = "5.0"
viscosity = "18 Pa*s"
"""
LOT: Final = 'ingredient = "glycerin"\nlot = "G1"\nreceived = 2026-01-05\nstatus = "released"\nprice = "2.50 EUR/kg"\n'
PROOF: Final = f"""\
recipe = "cream"

[[proof]]
kind   = "stability"
commit = "@base@"
hash   = "{_hash()}"
report = "ST-1"
passed = 2026-04-02
"""
# What was made and proven of the smallest workspace before anybody meant ill.
RECORDS: Final[Mapping[str, str]] = {
    "batches/b1.toml": BATCH,
    "batches/b2.toml": BATCH.replace("03-04", "03-05").replace('"18 Pa*s"', '"12 Pa*s"'),
    "lots/glycerin-1.toml": LOT,
    "lots/water-1.toml": LOT.replace("glycerin", "water").replace("G1", "W1"),
    "evidence/cream.toml": PROOF,
}


@dataclass(frozen=True)
class Case:
    """Files to write (a name in bytes need not be UTF-8), and links by where they point to."""

    files: Mapping[str | bytes, str | bytes] = field(default_factory=dict)
    links: Mapping[str, str] = field(default_factory=dict)

    def write(self, root: Path) -> None:
        """Lay the case over a workspace with its records."""
        base = (root / ".git" / "refs" / "heads" / "base").read_text("utf-8").strip()
        for name, content in self.files.items():
            path = os.path.join(os.fsencode(root), os.fsencode(name))  # noqa: PTH118 - bytes
            os.makedirs(os.path.dirname(path), exist_ok=True)  # noqa: PTH103, PTH120 - bytes
            with open(path, "wb") as file:  # noqa: PTH123 - bytes
                file.write(content.replace("@base@", base).encode("utf-8") if isinstance(content, str) else content)
        for name, target in self.links.items():
            link = root / name
            link.parent.mkdir(parents=True, exist_ok=True)
            if link.is_symlink() or link.exists():
                link.unlink()
            link.symlink_to(target)


# All that a terminal, markdown, HTML, a CI runner, a code host or a spreadsheet could take for its own.
NASTY: Final = (
    "\x1b[31mred\x1b]0;title\x07\x9b31m\x08\x7f",
    "\u202egpj.exe\u2066x\u2069\u200bzero\u2028line\ufeff\ufffe",
    "`tick` ``` ~~~ | pipe *b* _i_ ~~s~~ # h1 - li > quote \\",
    "<script>alert(1)</script><img src=x onerror=alert(1)><b>",
    "</details></summary></td><!-- --><a href='javascript:alert(1)'>a</a>",
    "[a](https://evil.example) ![i](https://evil.example/x.png) <https://evil.example> https://evil.example www.evil.example",
    "@team #12 GH-12 !12 %12 ~label $12 &12 me@evil.example",
    "\n::error file=a::boom\n##[error]x\n##vso[task.setvariable variable=a]b\n##teamcity[x]\n::set-env name=a::b",
    "\r\n/merge\n/close\n---\n# head",
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "=cmd|' /C calc'!A0",
    "\"'>&<${{ github.token }} $(touch pwned) `touch pwned` %0A::error::x %s {0} {{x}}",
    "a]]>b &amp; &lt; &#x202e; &bull",
)
HOMOGLYPHS: Final = (
    "Gly\u0441erin",
    "Hydr\u043equinone",
    "\u0410qua",
    "Formaldehyde\u200b",
    "F\u00f2rmaldehyde",
    "\u210cydroquinone",
)


def quoted(text: str) -> str:
    """Write a text as a TOML string."""
    out = []
    for character in text:
        if character in '"\\':
            out.append(f"\\{character}")
        elif character.isprintable():
            out.append(character)
        else:
            code = ord(character)
            out.append(f"\\u{code:04X}" if code < 0x10000 else f"\\U{code:08X}")
    return f'"{"".join(out)}"'


ALL: Final = quoted(" ".join(NASTY))


def _names() -> Case:
    """Put nasty words wherever a free word may stand."""
    q = ALL
    recipe = (
        f"title = {q}\nproduct = {q}\nform = {q}\nmarkets = [{q}]\nclaims = [{q}]\npack = {q}\nbatch = {q}\n"
        f"[phase.A]\ntitle = {q}\n[phase.A.charge]\nwater = 'to 100'\nglycerin = {{ pct = 5, for = {q}, note = {q} }}\n"
        f"[[step]]\nid = {q}\ntitle = {q}\nnote = {q}\ninto = {q}\nadd = ['A', {q}]\nshear = {q}\nmixer = {q}\n"
        f"speed = {q}\ntime = {q}\ntemp = {q}\n[spec]\npH = {q}\n{q} = {q}\n"
        f"[[accept]]\nrule = {q}\nabout = {q}\nwhy = {q}\n"
    )
    ingredient = (
        f"title = {q}\nsupplier = {q}\ncode = {q}\nfunctions = [{q}]\ndensity = '1.26 g/mL'\n"
        f"[substances]\n{q} = {{ pct = 60, cas = {q} }}\n'Glycerin' = 40\n[allergens]\n{q} = 1\n"
        f"[handling]\nbecause = {q}\nhazards = [{q}]\nwet_with = [{q}]\nshear_at_most = {q}\n"
        f"[[certificate]]\nscheme = {q}\nnumber = {q}\n[[price]]\ncost = {q}\n"
    )
    return Case({"cream.toml": recipe, "ingredients/glycerin.toml": ingredient})


def _words() -> Case:
    """Put each nasty word where the file stays right, so that it reaches every report."""
    files: dict[str | bytes, str | bytes] = {}
    for number, word in enumerate((*NASTY, *HOMOGLYPHS)):
        q = quoted(word)
        files[f"r{number}.toml"] = (
            CREAM.replace('"Cream"', q).replace("glycerin = 5.00", f"glycerin = 5.{number:02}\ni{number} = 1.00")
            .replace('"mix"', q).replace('"main"', q).replace("[phase.A.charge]", f"[phase.A]\ntitle = {q}\n[phase.A.charge]")
            + f"note = {q}\n"
        )  # fmt: skip
        files[f"ingredients/i{number}.toml"] = GLYCERIN.replace('"Glycerin"', q)
    files["cream.toml"] = CREAM.replace('"Cream"', ALL).replace("glycerin = 5.00", "glycerin = 6.00\ni15 = 1.00")
    files["ingredients/glycerin.toml"] = GLYCERIN.replace("2.00 EUR", "3.00 EUR").replace('"Glycerin" =', f"{ALL} =")
    return Case(files)


def _nasty_records() -> Case:
    """Put nasty words into batches, lots and proofs that are right, and a lot's name where a batch says it."""
    files: dict[str | bytes, str | bytes] = {"cream.toml": CREAM.replace("5.00", "6.00")}
    for number, word in enumerate(NASTY):
        q = quoted(word)
        files[f"batches/n{number}.toml"] = (
            BATCH.replace('"Una"', f"{q}\nchecked_by = {q}\nnote = {q}\nequipment = [{q}]").replace('"glycerin-1"', q)
            .replace("2026-03-04\n", f"2026-04-{number + 1:02}\n").replace("[result]", f"done_by = {q}\nnote = {q}\n[result]\n{q} = '3 g'")
        )  # fmt: skip
        files[f"lots/n{number}.toml"] = (
            LOT.replace('"G1"', f"{q}\nsupplier = {q}\nnote = {q}") + f"[certificate]\n{q} = '3 g'\n"
        )
        files[f"evidence/n{number}.toml"] = PROOF.replace(
            '"ST-1"', f"{q}\ncalled = {q}\nby = {q}\nnote = {q}\nmarket = {q}"
        )
    q = ALL
    files["batches/b2.toml"] = (
        BATCH.replace('"Una"', f"{q}\nnote = {q}").replace('"glycerin-1"', q).replace('"low" }', f'"low" }}\ndone_by = {q}\nnote = {q}')
        + f"{q} = '3 g'\n"
    )  # fmt: skip
    files["lots/glycerin-1.toml"] = (
        LOT.replace('"G1"', q) + f"supplier = {q}\nnote = {q}\n[certificate]\n{q} = '1 Pa*s'\n"
    )
    files["evidence/cream.toml"] = PROOF.replace('"ST-1"', f"{q}\ncalled = {q}\nby = {q}\nnote = {q}")
    return Case(files)


def _keys() -> Case:
    """Put nasty words where keys stand."""
    charges = "\n".join(f"{quoted(word)} = 1" for word in NASTY)
    phases = "\n".join(f"[phase.{quoted(word)}.charge]\nwater = 1" for word in NASTY)
    top = "\n".join(f"{quoted(word)} = {quoted(word)}" for word in NASTY)
    return Case({"cream.toml": f"{top}\n{CREAM}\n{phases}\n", "b.toml": f'title = "B"\n[phase.A.charge]\n{charges}\n'})


def _numbers() -> Case:
    digits, long = "9" * 10_000, "0." + "3" * 10_000
    amounts = (
        "1e999999",
        "-1e999999",
        "1e-999999",
        "inf",
        "nan",
        digits,
        long,
        "1e400",
        "-0.0",
        f"-{digits}",
        "0x" + "f" * 5000,
        "1e99999999999999999999",
    )
    files: dict[str | bytes, str | bytes] = {
        f"n{number}.toml": CREAM.replace("5.00", amount) for number, amount in enumerate(amounts)
    }
    quantities = (
        "1e999999 rpm",
        f"{digits} rpm",
        "1e-999999 s",
        "1e308 to 1e309 degC",
        "at most 1e99999 K",
        f"{'1/3 ' * 3000}",
        "9" * 400 + " kg",
    )
    for number, quantity in enumerate(quantities):
        files[f"q{number}.toml"] = CREAM.replace(
            'shear = "low"', f'shear = "low"\nspeed = "{quantity}"\ntime = "{quantity}"'
        ) + (f'[spec]\npH = "{quantity}"\nviscosity = "{quantity}"\ndensity = "{quantity}"\n')
        files[f"b{number}.toml"] = f'batch = "{quantity}"\npack = "{quantity}"\n' + CREAM
        files[f"ingredients/q{number}.toml"] = GLYCERIN.replace("1.26 g/mL", quantity).replace("2.00 EUR/kg", quantity)
    values = ('"1/0"', f'"1/{digits}"', f'"{digits}/3"', "1e300", '"1e999999/7"')
    for number, value in enumerate(values):
        files[f"ingredients/v{number}.toml"] = GLYCERIN.replace(
            "natural_origin = 1", f"natural_origin = {value}"
        ).replace("= 100", f"= {value}")
    files["cream.toml"] = CREAM.replace(
        "glycerin = 5.00",
        "\n".join(
            [
                "glycerin = 5.00",
                *(f"{k}{n} = 0.1" for k, c in (("v", len(values)), ("q", len(quantities))) for n in range(c)),
            ]
        ),
    )
    files["book.toml"] = f'amounts = "mass"\ntotal = "{digits} g"\n' + CREAM.replace('"to 100"', '"1e-300 g"').replace(
        "5.00", '"1e300 lb"'
    )
    return Case(files)


def _charges(count: int) -> Case:
    charges = "\n".join(f"c{number} = 0.001" for number in range(count))
    return Case({"cream.toml": CREAM.replace("glycerin = 5.00", f"glycerin = 6.00\n{charges}")})


def _known_charges(count: int) -> Case:
    phases = "".join(f"[phase.p{number}.charge]\nglycerin = 0.005\n" for number in range(count))
    return Case({"cream.toml": CREAM.replace("[[step]]", f"{phases}[[step]]")})


def _steps(count: int) -> Case:
    steps = "".join(
        f'[[step]]\nid = "s{number}"\ninto = "v{number % 7}"\nshear = "high"\nspeed = "{number + 1} rpm"\ntime = "1 min"\n'
        f'temp = "{20 + number % 60} degC"\n{"from = " + quoted(f"v{(number + 3) % 7}") if number % 5 == 4 else ""}\n'
        for number in range(count)
    )
    return Case({"cream.toml": CREAM + steps})


def _premixes(deep: int, twice: bool) -> Case:
    """Make premixes of premixes; used twice each, one that is not memoised takes 2 to the depth."""
    files: dict[str | bytes, str | bytes] = {}
    for level in range(deep):
        below = "glycerin" if level == 0 else f"p{level - 1}"
        again = f"\n[phase.B.charge]\n{below} = 25.00\n" if twice else ""
        add = '["A", "B"]' if twice else '["A"]'
        files[f"premixes/p{level}.toml"] = (
            f'title = "P{level}"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\n{below} = 50.00\n{again}'
            f'[[step]]\nid = "mix"\ninto = "main"\nadd = {add}\nshear = "low"\n'
        )
        files[f"ingredients/p{level}.toml"] = f'title = "P{level}"\nrecipe = "p{level}"\n'
    files["cream.toml"] = CREAM.replace("glycerin = 5.00", f"glycerin = 6.00\np{deep - 1} = 5.00")
    return Case(files)


def _cycles() -> Case:
    case = dict(_premixes(3, twice=False).files)
    case["premixes/p0.toml"] = str(case["premixes/p0.toml"]).replace("glycerin =", "p2 =")
    case["ingredients/self.toml"] = 'title = "Self"\nrecipe = "cream"\n'
    case["cream.toml"] = CREAM.replace("glycerin = 5.00", "glycerin = 6.00\nself = 1.00\np2 = 1.00")
    return Case(case)


def _nesting() -> Case:
    deep = 20_000
    return Case({
        "cream.toml": CREAM.replace("5.00", "6.00"),
        "a.toml": "x = " + "[" * deep + "]" * deep + "\n",
        "b.toml": "x = " + "{a = " * deep + "1" + "}" * deep + "\n",
        "c.toml": ".".join(["a"] * deep) + " = 1\n",
        "d.toml": "".join(f"[{'.'.join(['a'] * n)}]\n" for n in range(1, 400)),
        "e.toml": "[" * deep + "\n",
        "f.toml": "x = " + "[" * deep + "\n",
        "g.toml": "[" + ".".join(["a"] * deep) + "]\nx = 1\n",
        "h.toml": CREAM.replace("5.00", "{ pct = " + "[" * 300 + "1" + "]" * 300 + " }"),
        "ingredients/deep.toml": "substances = " + "{ a = " * 300 + "1" + " }" * 300 + "\n",
        "rules/deep.toml": "rule = " + "[" * 300 + "]" * 300 + "\n",
    })  # fmt: skip


def _links() -> Case:
    links = {
        "out.toml": "/etc/passwd",
        "up.toml": "../../../../../../../../etc/passwd",
        "shadow.toml": "/etc/shadow",
        "ingredients/out.toml": "/etc/hostname",
        "ingredients/self.toml": "self.toml",
        "a.toml": "b.toml",
        "b.toml": "a.toml",
        "gone.toml": "nowhere.toml",
        "folder.toml": "ingredients",
        "loop": ".",
        "sub/loop": "..",
        "premixes": "/etc",
        "dev.toml": "/dev/zero",
        "random.toml": "/dev/urandom",
        "tty.toml": "/dev/stdin",
        "proc.toml": "/proc/self/environ",
        "git.toml": ".git/config",
        "inside.toml": "cream.toml",
        "rules/out.toml": "../../outside.toml",
    }
    return Case({"cream.toml": CREAM.replace("5.00", "6.00")}, links)


def _linked_workspace() -> Case:
    return Case({"cream.toml": CREAM.replace("5.00", "6.00")}, {"workspace.toml": "/etc/passwd"})


def _paths() -> Case:
    names: list[str | bytes] = [
        "new\nline.toml", "-rf.toml", "--format=json.toml", "a:b.toml", "HEAD:x.toml", "q'uote\".toml", "$(touch pwned).toml", "`touch pwned`.toml",
        "..toml", "...toml", ".toml", "a..b.toml", "sp ace.toml", "tab\t.toml", "\x1b[31m.toml", "\u202egpj.toml", "<img src=x>.toml", "[a](b).toml",
        "%0A::error::x.toml", "##[error].toml", "::error::.toml", "@team.toml", "=1+1.toml", "caf\u00e9.toml", "cafe\u0301.toml", "CREAM.toml",
        "a" * 240 + ".toml", "cream@HEAD.toml", "recipe:cream.toml", "con.toml", "a,b.toml", "a%2e%2e%2fb.toml", "back\\slash.toml",
        b"\xff\xfe.toml", b"caf\xe9.toml", b"ingredients/\xff.toml", "ingredients/new\nline.toml", "ingredients/..toml",
        "x/" * 100 + "deep.toml", "ingredients/" + "y/" * 50 + "deep.toml", "\u00a0.toml", "a|b.toml", "a*b?.toml", "\ufffe.toml", "rules/\n.toml", b"rules/\xff.toml",
    ]  # fmt: skip
    return Case({"cream.toml": CREAM.replace("5.00", "6.00"), **dict.fromkeys(names, CREAM)})


def _rules() -> Case:
    strings = ("(a+)+$", "(" * 5000, "a{1,99999999}", ".*" * 5000, "[" * 5000, "\\" * 5000, "a" * 1_000_000)
    rows = "".join(
        f'[[rule]]\nid = "house-{number}"\nsubstances = [{quoted(text)}, "Glycerin"]\nkind = "limit"\nat_most = "0.8 %"\n'
        f"where = {{ contact = [{quoted(text[:2000])}] }}\nbecause = {quoted(text)}\nsource = {quoted(text[:2000])}\n"
        for number, text in enumerate(strings)
    )
    many = "".join(
        f'[[rule]]\nid = "m{n}"\nsubstances = ["Glycerin"]\nkind = "limit"\nat_most = "0.{n:05} %"\nsource = "s"\n'
        for n in range(5000)
    )
    wide = f'[[rule]]\nid = "wide"\nsubstances = [{", ".join(quoted(f"S{n}") for n in range(30_000))}]\nkind = "prohibited"\nsource = "s"\n'
    bad = f"[[rule]]\nid = {ALL}\nkind = {ALL}\nsubstances = {ALL}\nat_most = {ALL}\nunless = {ALL}\nwhere = {{ {ALL} = [{ALL}] }}\nsource = {ALL}\n"
    nasty = f'[[rule]]\nid = "nasty"\nsubstances = ["Glycerin"]\nkind = "limit"\nat_most = "0.1 %"\nbecause = {ALL}\nsource = {ALL}\n'
    return Case({
        "cream.toml": CREAM.replace("5.00", "6.00"), "rules/house.toml": rows, "rules/many.toml": many, "rules/wide.toml": wide,
        "rules/bad.toml": bad, "rules/nasty.toml": nasty, "rules/numbers.toml": nasty.replace('"nasty"', '"num"').replace("0.1 %", "9" * 9000 + " %"),
    })  # fmt: skip


def _bytes() -> Case:
    big = f'title = "{"x" * 6_000_000}"\n'
    return Case({
        "cream.toml": "\ufeff" + CREAM.replace("5.00", "6.00"),
        "big.toml": big,
        "comment.toml": CREAM + "#" * 6_000_000 + "\n",
        "ingredients/big.toml": big,
        "binary.toml": bytes(range(256)) * 40,
        "utf16.toml": CREAM.encode("utf-16"),
        "utf32.toml": CREAM.encode("utf-32"),
        "latin1.toml": CREAM.replace("Cream", "Cr\u00e8me").encode("latin-1"),
        "crlf.toml": CREAM.replace("\n", "\r\n"),
        "cr.toml": CREAM.replace("\n", "\r"),
        "nul.toml": CREAM.replace("Cream", "Cr\0eam"),
        "esc.toml": CREAM.replace("Cream", "\x1b[31m"),
        "rlo.toml": CREAM.replace("Cream", "\u202eCream").replace("[phase", "# \u202e\n[phase", 1),
        "surrogate.toml": b'title = "\xed\xa0\x80"\n' + CREAM.encode(),
        "overlong.toml": b'title = "\xc0\xaf"\n' + CREAM.encode(),
        "twice.toml": CREAM + 'title = "again"\n[phase.A.charge]\nwater = 1\n',
        "empty.toml": "",
        "blank.toml": "\n" * 100_000,
        "open.toml": 'title = """' + "x" * 100_000,
        "conflict.toml": "<<<<<<< ours\n" + CREAM + "=======\n" + CREAM + ">>>>>>> theirs\n",
        "lines.toml": "x\n" * 50_000,
        "one-line.toml": "a=1;" * 50_000,
        "quotes.toml": '"' * 100_000,
        "bom-ingredient.toml": b"\xef\xbb\xbf",
        "ingredients/twice.toml": GLYCERIN + 'title = "x"\n',
        "ingredients/nul.toml": b"\0" * 1000,
    })  # fmt: skip


def _records() -> Case:
    q, numbers = ALL, "9" * 5000
    batch = (
        f"recipe = {q}\ncommit = {q}\nhash = {q}\nsize = {q}\ndate = {q}\nmade_by = {q}\nchecked_by = {q}\nequipment = [{q}]\nmade = {q}\nnote = {q}\n"
        f"[phase.A.charge]\nglycerin = {{ target = {q}, weighed = {q}, lot = {q}, balance = {q} }}\n{q} = {q}\n"
        f"[[step]]\nid = {q}\nstarted = {q}\nspeed = {q}\n[result]\n{q} = {q}\n"
    )
    good = (
        f'recipe = "cream"\ncommit = "{"0" * 40}"\nhash = "{"0" * 64}"\nsize = "{numbers} kg"\ndate = 2026-03-04\nmade_by = {q}\n'
        f'[phase.A.charge]\nglycerin = {{ target = "1e99999 kg", weighed = "{numbers} g", lot = "l" }}\n'
        '[[step]]\nid = "mix"\nstarted = 9999-12-31T23:59:59\nended = 0001-01-01T00:00:00\n'
    )
    proof = f"recipe = {q}\n[[proof]]\nkind = {q}\ncommit = {q}\nhash = {q}\nreport = {q}\npassed = {q}\nuntil = {q}\nowner = {q}\n"
    commits = (
        "HEAD",
        "--upload-pack=touch pwned",
        "-x",
        "HEAD\n",
        "main; touch pwned",
        "$(touch pwned)",
        "0" * 40,
        "a" * 100_000,
        ":/",
        "HEAD^{/x}",
        "@{u}",
        "../x",
    )
    proofs = 'recipe = "cream"\n' + "".join(
        f'[[proof]]\nkind = "stability"\ncommit = {quoted(commit)}\nhash = "{"f" * 64}"\nreport = {q}\npassed = 2026-05-02\n'
        for commit in commits
    )
    lot = f"ingredient = {q}\nlot = {q}\nreceived = {q}\nexpires = {q}\nstatus = {q}\nsupplier = {q}\nquantity = {q}\nprice = {q}\nnote = {q}\n[certificate]\n{q} = {q}\n"
    fine = f'ingredient = "glycerin"\nlot = {q}\nreceived = 0001-01-01\nexpires = 9999-12-31\nstatus = "released"\nnote = {q}\nquantity = "{numbers} kg"\n'
    return Case({
        "cream.toml": CREAM.replace("5.00", "6.00"),
        "batches/bad.toml": batch, "batches/good.toml": good, "batches/loop.toml": good.replace('lot = "l"', 'lot = "loop"'),
        "evidence/bad.toml": proof, "evidence/commits.toml": proofs,
        "evidence/many.toml": 'recipe = "cream"\n' + f'[[proof]]\nkind = "stability"\ncommit = "{"0" * 40}"\nhash = "x"\n' * 2000,
        "lots/bad.toml": lot, "lots/l.toml": fine, "lots/big.toml": f'lot = "{"x" * 6_000_000}"\n', "batches/bin.toml": b"\0\xff" * 500,
    })  # fmt: skip


def _proofs() -> Case:
    """Bring certificates by the thousand, each outdated by the change, so that each is a duty."""
    head, _, proof = PROOF.partition("\n\n")
    rows = [
        proof.replace('"stability"', f'"certificate"\nscheme = "S{n}"').replace("ST-1", f"C-{n}") for n in range(3000)
    ]
    files: dict[str | bytes, str | bytes] = {
        f"evidence/c{n}.toml": "\n\n".join((head, *rows[n : n + 500])) for n in range(0, len(rows), 500)
    }
    return Case({**files, "cream.toml": CREAM.replace("5.00", "16.00").replace("low", "high")})


def _workspace() -> Case:
    q = ALL
    text = f"title = {q}\ncurrency = {q}\nmarkets = [{q}]\npacks = [{q}, '../../etc/passwd', '/etc/passwd']\nbatch = {q}\ntolerance = {q}\nreason = {q}\n{q} = {q}\n"
    return Case({"workspace.toml": text, "cream.toml": CREAM.replace("5.00", "6.00")})


def _currency() -> Case:
    text = f'title = "Shed"\ncurrency = "EUR"\nbatch = "{"9" * 300} kg"\npacks = ["no-such", {ALL}]\nmarkets = ["EU", {ALL}]\n'
    return Case({"workspace.toml": text, "cream.toml": CREAM.replace("5.00", "6.00")})


def _equipment() -> Case:
    step = CREAM.replace(
        'shear = "low"', 'shear = "high"\nmixer = "rotor"\nspeed = "3000 rpm"\ntime = "5 min"\nviscosity = "1e300 Pa*s"'
    ).replace("5.00", "6.00")
    rotor = f'title = {ALL}\nkind = "rotor-stator"\nrotor = "1e-300 mm"\ngap = "0 mm"\nspeed = "1e300 to 1e301 rpm"\npower_number = 1e300\nvolume = "{"9" * 300} L"\n'
    return Case(
        {
            "cream.toml": step,
            "equipment/rotor.toml": rotor,
            "equipment/bad.toml": f"title = {ALL}\nkind = {ALL}\nrotor = {ALL}\n{ALL} = {ALL}\n",
        }
    )


def _many() -> Case:
    files: dict[str | bytes, str | bytes] = {}
    for number in range(250):
        files[f"r{number}.toml"] = CREAM.replace('"Cream"', quoted(f"{NASTY[number % len(NASTY)]} {number}")).replace(
            "5.00", f"{number}.00"
        )
    files["ingredients/glycerin.toml"] = GLYCERIN.replace("2.00 EUR", "3.00 EUR")
    return Case(files)


def _long() -> Case:
    word = "x" * 300_000
    return Case({
        "cream.toml": CREAM.replace("Cream", word).replace("glycerin = 5.00", f"glycerin = 6.00\n{word} = 1").replace('"mix"', f'"{word}"'),
        "ingredients/glycerin.toml": GLYCERIN.replace('"Glycerin" =', f'"{word}" =').replace('"Glycerin"', f'"{word}"'),
    })  # fmt: skip


def _substances() -> Case:
    many = "\n".join(f'"Substance {number}" = 0.01' for number in range(10_000))
    prices = "".join(f'[[price]]\ncost = "{number}.00 EUR/kg"\nfrom = "{number} kg"\n' for number in range(1, 3000))
    accept = "".join(f'[[accept]]\nrule = "total"\nabout = "{number}"\nwhy = "x"\n' for number in range(3000))
    ingredient = GLYCERIN.replace('"Glycerin" = 100', many).partition("[[price]]")[0] + prices
    return Case({"cream.toml": CREAM.replace("5.00", "6.00") + accept, "ingredients/glycerin.toml": ingredient})


CASES: Final[Mapping[str, Callable[[], Case]]] = {
    "nasty words everywhere": _names,
    "nasty words in files that are right": _words,
    "nasty words in records": _nasty_records,
    "nasty keys": _keys,
    "huge numbers": _numbers,
    "10,000 unknown charges": lambda: _charges(10_000),
    "3,000 known charges": lambda: _known_charges(3_000),
    "5,000 steps": lambda: _steps(5_000),
    "premixes 200 deep": lambda: _premixes(200, twice=False),
    "premixes 60 deep, each twice": lambda: _premixes(60, twice=True),
    "premixes in circles": _cycles,
    "nested TOML": _nesting,
    "links": _links,
    "the workspace file a link": _linked_workspace,
    "names of files": _paths,
    "rule packs": _rules,
    "bytes": _bytes,
    "records": _records,
    "3,000 proofs": _proofs,
    "workspace": _workspace,
    "huge batch": _currency,
    "equipment": _equipment,
    "250 recipes": _many,
    "long words": _long,
    "10,000 substances": _substances,
}
