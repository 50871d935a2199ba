"""What goes into the store comes out the same, alone and through export and import."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st

from obverse.store import KINDS, open_store

texts = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=20)
scalars = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | texts
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4), max_leaves=12
)
bodies = st.dictionaries(texts, values, max_size=5)


def exactly(value) -> str:
    """Distinguishes 1, 1.0, true, and -0.0."""
    return json.dumps(value, sort_keys=True)


@given(body=bodies, kind=st.sampled_from(KINDS))
@settings(max_examples=60, deadline=None)
def test_bodies_come_back_as_they_went_in(body, kind):
    store = open_store()
    kept = store.put(kind, body)
    assert exactly(kept.body) == exactly(store.get(kind, kept.id).body) == exactly(body)
    other = open_store()
    other.import_(json.loads(json.dumps(store.export())))
    assert exactly(other.get(kind, kept.id).body) == exactly(body)
    store.close()
    other.close()


@given(data=st.binary(max_size=400))
@settings(max_examples=60, deadline=None)
def test_bytes_come_back_as_they_went_in(data):
    store = open_store()
    assert store.get_blob(store.put_blob(data, "application/octet-stream")) == data
    store.close()


@given(names=st.lists(st.sampled_from("abcdef"), max_size=30))
@settings(max_examples=60, deadline=None)
def test_events_keep_their_first_place_whatever_is_sent_again(names):
    store = open_store()
    first: dict[str, int] = {}
    for place, name in enumerate(names):
        seq = store.append_event("run", name, {"place": place})
        assert seq == first.setdefault(name, len(first) + 1)
    events = store.events("run")
    assert [event.seq for event in events] == list(range(1, len(first) + 1))
    assert [event.event_id for event in events] == list(dict.fromkeys(names))
    store.close()
