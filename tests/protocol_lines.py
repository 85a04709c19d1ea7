"""Drawn at random: what the protocol's lines may say, whole lines, and noise."""

from dataclasses import replace

from hypothesis import strategies as st

from viscount.devices.protocol.fields import U16, Fitted, Flag, Has, Name, OneOf, Whole
from viscount.devices.protocol.line import write_line
from viscount.devices.protocol.messages import (
    FROM_BOARD,
    FROM_HOST,
    Message,
    Ready,
    rules,
    to_line,
)

WORD = st.text("ab.z09-", min_size=1, max_size=6).map(lambda word: "x" + word[1:])


def allowed(rule: object) -> st.SearchStrategy:
    match rule:
        case Whole(least=least, most=most):
            return st.integers(least, most)
        case Flag():
            return st.booleans()
        case Name(longest=longest):
            return WORD.map(lambda word: word[:longest])
        case Fitted():
            return st.builds(Has, *[st.booleans()] * 4)
        case OneOf(words=words):
            return st.sampled_from(list(words))
    raise AssertionError(rule)


@st.composite
def messages(draw: st.DrawFn, kinds: tuple[type[Message], ...] = (*FROM_BOARD, *FROM_HOST)):
    kind = draw(st.sampled_from(kinds))
    message = kind(**{name: draw(allowed(rule)) for name, rule in rules(kind).items()})
    if isinstance(message, Ready):
        message = replace(message, early=message.early % message.count)
    return message


@st.composite
def lines(draw: st.DrawFn) -> bytes:
    number, boot = draw(st.integers(0, U16)), draw(st.integers(0, U16))
    return write_line(to_line(draw(messages()), number=number, boot=boot))


NOISE = st.binary(max_size=40) | st.lists(
    st.sampled_from([b"^", b"\n", b" ", b"0", b"a", b"F", b"\xff", b"9" * 90]), max_size=20
).map(b"".join)
