"""A limit put into the keeper's text: what stood there before stands there still, to the byte."""

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.settings import tree
from monitor.settings.editing import at, depth, put

FIG = ("bins", "fig", "limits", "temperature", "comfort")
BAND = "20..28 °C"


def lines_changed(before, after):
    """(lines gone, lines come) between what both begin with and what both end with."""
    old, new = before.splitlines(), after.splitlines()
    start = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
    rest = min(len(old), len(new)) - start
    end = next((i for i in range(rest) if old[-1 - i] != new[-1 - i]), rest)
    return old[start : len(old) - end], new[start : len(new) - end]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("bins: {fig: {limits: {temperature: {comfort: 21..29 °C}}}}\n", "bins: {fig: {LIMITS}}\n"),
        ("bins:\n  fig: {species: a}   # mine\n", "bins:\n  fig: {species: a, LIMITS}   # mine\n"),
        ("bins:\n  fig:\n    species: a # x\n\n  # the other\n  plum: {}\n",
         "bins:\n  fig:\n    species: a # x\n    LIMITS\n\n  # the other\n  plum: {}\n"),
        ("bins:\n  fig:\n    limits:\n      temperature:   # of\n        deadband: 1 °C\n    worms: 2 kg",
         "bins:\n  fig:\n    limits:\n      temperature:   # of\n"
         "        deadband: 1 °C\n        comfort: 20..28 °C\n    worms: 2 kg"),
        ("bins:\n  fig:\n    limits:\n      moisture: {deadband: 2}\n",
         "bins:\n  fig:\n    limits:\n      moisture: {deadband: 2}\n      temperature: {comfort: 20..28 °C}\n"),
        ("bins:\n  fig:\n    limits:   # none yet\n", "bins:\n  fig:\n    LIMITS   # none yet\n"),
        ("bins:\r\n  fig:\r\n    species: é\r\n", "bins:\r\n  fig:\r\n    species: é\r\n    LIMITS\r\n"),
        ("bins:\n  fig:\n    species: a", "bins:\n  fig:\n    species: a\n    LIMITS"),
        ("bins:\n  fig: {limits: {temperature: {comfort: '21..29'}}}\n",
         "bins:\n  fig: {limits: {temperature: {comfort: '20..28 °C'}}}\n"),
        ("bins:\n  fig: {}\n", "bins:\n  fig: {LIMITS}\n"),
        ("bins:\n  fig: {a: 1, }\n", "bins:\n  fig: {a: 1, LIMITS, }\n"),
        ("bins:\n  fig: {a: 1, b: }\n", "bins:\n  fig: {LIMITS, a: 1, b: }\n"),
        ("bins:\n  fig:\n    name: |\n      Fig\n\n  plum: {}\n",
         "bins:\n  fig:\n    LIMITS\n    name: |\n      Fig\n\n  plum: {}\n"),
        ("bins:\n  fig:\n    zones:\n      a:\n        - 1\n      # end\n    # of fig\n",
         "bins:\n  fig:\n    zones:\n      a:\n        - 1\n    LIMITS\n      # end\n    # of fig\n"),
        ("bins:\n  fig: ~\n", "bins:\n  fig: {LIMITS}\n"),
    ],
)  # fmt: skip
def test_a_band_is_put_where_it_belongs(before, after):
    assert after.replace("LIMITS", "limits: {temperature: {comfort: 20..28 °C}}") == put(before, FIG, BAND)


def test_one_item_of_a_list_is_changed():
    text = "bins: {fig: {limits: {temperature: {harm: [{below: 15 °C, lasting: 4 h}, {above: 32}]}}}}\n"
    path = (*FIG[:-1], "harm", 0, "below")
    assert text.replace("15 °C", "14 °C") == put(text, path, "14 °C")


@pytest.mark.parametrize(
    "text",
    [
        "bins: {fig: &f {limits: 1}}\n",  # an anchor
        "bins: {fig: *f}\n",
        "bins: {fig: !x {}}\n",
        "bins: {fig: 1}\n---\nbins: {}\n",
        "bins:\n\tfig: {}\n",
        "bins: {fig: [1, 2]}\n",
        "bins: {fig: a text}\n",
        "bins: {fig: {limits: {temperature: {comfort: {low: 1}, comfort: 2}}}}\n",  # written twice
        "bins:\n  fig:\n    limits:\n      temperature:\n        comfort:\n          - 21..29 °C\n",
        "bins:\n  fig:\n    limits:\n      temperature:\n        comfort: |\n          21..29 °C\n",
        "",
        "- 1\n",
    ],
)
def test_what_cannot_be_changed_safely_is_left_to_its_keeper(text):
    with pytest.raises(BadValue):
        put(text, FIG, BAND)


def test_how_much_of_a_path_is_written_is_told():
    text = "bins: {fig: {limits: }}\n"
    assert [3, 2, 0] == [depth(text, FIG), depth(text, ("bins", "fig", "zones")), depth(text, ("profiles", "row"))]
    assert "fig" == at("bins: {fig: fig}\n", ("bins", "fig")).value
    assert at(text, ("bins", "plum")) is None


# ── any text ──────────────────────────────────────────────────────────────────────────────────────────────────

WORD = st.from_regex(r"\A[a-z][a-z0-9-]{0,6}\Z")
SCALAR = st.one_of(
    WORD, st.sampled_from(["21 °C", "70..84 °F", "'q: # x'", '"a\\tb é"', "22:00", "-1.5", "", "~"])
)
COMMENT = st.sampled_from(["", "", "  # mine", " # a: {b", "   "])


@st.composite
def written(draw, depth=0, indent=0):
    """(data as YAML lines, in block or flow style); a mapping."""
    keys = draw(st.lists(WORD, min_size=1, max_size=4, unique=True))
    lines = []
    for key in keys:
        lines += [" " * draw(st.integers(0, 8)) + "# note" for _ in range(draw(st.integers(0, 1)))]
        lines += ["" for _ in range(draw(st.integers(0, 1)))]
        kind = draw(st.sampled_from(["text", "flow", "block", "list", "bar"])) if depth < 3 else "text"
        head = f"{' ' * indent}{key}:"
        if kind == "block":
            lines.append(head + draw(COMMENT))
            lines += draw(written(depth=depth + 1, indent=indent + draw(st.integers(1, 4))))
        elif kind == "list":
            lines.append(head)
            lines += [f"{' ' * indent}- {draw(WORD)}{draw(COMMENT)}" for _ in range(draw(st.integers(1, 3)))]
        elif kind == "bar":
            lines += [f"{head} |", f"{' ' * (indent + 2)}{draw(WORD)}", f"{' ' * (indent + 2)}# no comment"]
        elif kind == "flow":
            lines.append(f"{head} {draw(flow())}{draw(COMMENT)}")
        else:
            lines.append(f"{head} {draw(SCALAR)}".rstrip() + draw(COMMENT))
    return lines


def flow():
    inner = st.recursive(
        st.one_of(WORD, st.sampled_from(["21 °C", "'a, b'", ""])),
        lambda children: st.one_of(
            st.lists(st.tuples(WORD, children), max_size=3, unique_by=lambda p: p[0]).map(
                lambda pairs: "{" + ", ".join(f"{k}: {v}" for k, v in pairs) + "}"
            ),
            st.lists(children.filter(bool), max_size=3).map(lambda items: "[" + " , ".join(items) + "]"),
        ),
        max_leaves=6,
    )
    return st.lists(st.tuples(WORD, inner), max_size=3, unique_by=lambda p: p[0]).map(
        lambda pairs: "{" + ", ".join(f"{k}: {v}" for k, v in pairs) + "}"
    )


def paths(data, path=()):
    for key, value in data.items():
        yield (*path, key)
        if isinstance(value, dict):
            yield from paths(value, (*path, key))


@settings(max_examples=120, deadline=None)
@given(
    written(),
    st.data(),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
    st.sampled_from(["20..28 °C", "4 h", "[{below: 1}]"]),
)
def test_whatever_is_written_only_that_value_changes(lines, data, ends, closed, value):
    text = ends.join(lines) + (ends if closed else "")
    try:
        before = tree.parsed(text)
    except BadValue:
        return
    path = data.draw(st.sampled_from(sorted(paths(before))))
    path += tuple(data.draw(st.lists(WORD, max_size=3)))
    try:
        after = put(text, path, value)
    except BadValue:
        assert text == ends.join(lines) + (ends if closed else "")
        return
    wanted, inner = copy.deepcopy(before), None
    inner = wanted
    for step in path[:-1]:
        inner[step] = {} if inner.get(step) is None else inner[step]
        inner = inner[step]
    inner[path[-1]] = tree.parsed(f"one: {value}")["one"]
    assert wanted == tree.parsed(after)
    gone, come = lines_changed(text, after)
    assert len(gone) <= 1 >= len(come), "one line is another, or one came"
    assert after.count("\r\n") + (ends == "\n") * 10**6 >= after.count("\n"), "the lines end as they did"
    assert [line for line in text.split(ends) if "#" in line and line.strip().startswith("#")] == [
        line for line in after.split(ends) if line.strip().startswith("#")
    ], "every comment stands where it stood"
