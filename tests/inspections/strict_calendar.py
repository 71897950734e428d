"""A small strict reader of RFC 5545, written for the tests and sharing no code with what it reads."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta


@dataclass
class Line:
    name: str
    params: dict[str, str]
    value: str


@dataclass
class Block:
    name: str
    lines: list[Line] = field(default_factory=list)
    blocks: "list[Block]" = field(default_factory=list)

    def all(self, name: str) -> list[Line]:
        return [line for line in self.lines if line.name == name]

    def one(self, name: str) -> Line:
        (line,) = self.all(name)
        return line

    def parts(self, name: str) -> "list[Block]":
        return [block for block in self.blocks if block.name == name]


def unfold(raw: bytes) -> list[str]:
    """Section 3.1: physical lines end CRLF, are at most 75 octets and decode alone; a space continues."""
    assert raw.endswith(b"\r\n")
    logical: list[str] = []
    for physical in raw[:-2].split(b"\r\n"):
        assert b"\n" not in physical
        assert b"\r" not in physical
        assert len(physical) <= 75
        words = physical.decode("utf-8")
        if words.startswith(" "):
            logical[-1] += words[1:]
        else:
            logical.append(words)
    return logical


def read(raw: bytes) -> Block:
    """The one VCALENDAR of an object; blocks must nest and close."""
    stack = [Block("")]
    for words in unfold(raw):
        line = split(words)
        if line.name == "BEGIN":
            stack.append(Block(line.value))
        elif line.name == "END":
            done = stack.pop()
            assert done.name == line.value
            stack[-1].blocks.append(done)
        else:
            stack[-1].lines.append(line)
    (root,) = stack
    (calendar,) = root.blocks
    assert calendar.name == "VCALENDAR"
    return calendar


def split(words: str) -> Line:
    """Name, parameters and value; a quoted parameter value may hold colon, semicolon and comma."""
    quoted, cuts = False, []
    for place, character in enumerate(words):
        if character == '"':
            quoted = not quoted
        elif not quoted and character in ";:":
            cuts.append(place)
            if character == ":":
                break
    head, value = words[: cuts[-1]], words[cuts[-1] + 1 :]
    pieces = [head[a + 1 : b] for a, b in zip([-1, *cuts], cuts, strict=False)]
    params = dict(piece.split("=", 1) for piece in pieces[1:])
    for given in params.values():
        bare = given[1:-1] if given.startswith('"') and given.endswith('"') else given
        assert '"' not in bare
        assert given != bare or not set(bare) & set(",;:")
    return Line(pieces[0].upper(), {k: v.strip('"') for k, v in params.items()}, value)


def unescape(value: str) -> str:
    """Section 3.3.11, left to right; anything else behind a backslash is an error."""
    out, place = "", 0
    while place < len(value):
        character = value[place]
        assert character not in ";,", "unescaped separator"
        if character == "\\":
            out += {"\\": "\\", ";": ";", ",": ",", "n": "\n", "N": "\n"}[value[place + 1]]
            place += 1
        else:
            out += character
        place += 1
    return out


def when(line: Line, calendar: Block) -> datetime:
    """The moment of a DATE-TIME: UTC, or TZID read through the object's own VTIMEZONE (section 3.6.5)."""
    if line.value.endswith("Z"):
        assert "TZID" not in line.params
        return datetime.strptime(line.value, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    wall = wall_of(line.value)
    (zone,) = [z for z in calendar.parts("VTIMEZONE") if z.one("TZID").value == line.params["TZID"]]
    onsets = [(wall_of(part.one("DTSTART").value), part) for part in zone.blocks]
    past = [onset for onset in onsets if onset[0] <= wall]
    part = max(past, key=lambda onset: onset[0])[1]
    return wall.replace(tzinfo=UTC) - offset(part.one("TZOFFSETTO").value)


def wall_of(value: str) -> datetime:
    return datetime.fromisoformat(
        f"{value[:4]}-{value[4:6]}-{value[6:8]}T{value[9:11]}:{value[11:13]}:{value[13:15]}"
    )


def offset(value: str) -> timedelta:
    length = timedelta(hours=int(value[1:3]), minutes=int(value[3:5]))
    return -length if value[0] == "-" else length
