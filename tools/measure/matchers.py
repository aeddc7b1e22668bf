"""Other matchers on the very same performances: the open ones of parangonar, and a plain edit distance.

parangonar 3.4 (Apache-2.0), default settings. Offline: `AutomaticNoteMatcher`, `DualDTWNoteMatcher`, the whole take
and the whole part at once. Online: `OLTWMatcher` and `TOLTWMatcher` in their single-loop form, note by note; the note at the
position returned is their place if its pitch is the played one, as parangonar itself pairs. The two that carry a
trained network, `OnlineTransformerMatcher` and `OnlinePureTransformerMatcher`, also pair notes themselves: both ways are
measured. They need torch (some gigabytes), so it is done by hand.

A matcher that fails on a performance has placed nothing there; the table counts how often.
"""

import contextlib
import io
import logging
import random
import time
import warnings

import numpy as np

import placement
from edit_distance import EditDistance

SCORE = [("onset_beat", "f4"), ("duration_beat", "f4"), ("onset_quarter", "f4"), ("duration_quarter", "f4"),
         ("onset_div", "i4"), ("duration_div", "i4"), ("pitch", "i4"), ("voice", "i4"), ("id", "U16"),
         ("divs_pq", "i4"), ("is_grace", "b")]
PLAYED = [("onset_sec", "f4"), ("duration_sec", "f4"), ("onset_tick", "i4"), ("duration_tick", "i4"), ("pitch", "i4"),
          ("velocity", "i4"), ("track", "i4"), ("channel", "i4"), ("id", "U16")]
DIVISIONS = 480


def arrays(performance):
    """The note arrays that parangonar works on, as partitura would make them. A beat is a quarter."""
    part = np.array([(n.onset, n.value, n.onset, n.value, round(n.onset * DIVISIONS), round(n.value * DIVISIONS),
                      n.midi, 1, f"s{at}", DIVISIONS, False) for at, n in enumerate(performance.notes)], dtype=SCORE)
    take = np.array([(n.onset, n.release - n.onset, round(n.onset * 960), round((n.release - n.onset) * 960), n.midi,
                      n.velocity, 0, 0, f"p{at}") for at, n in enumerate(performance.played)], dtype=PLAYED)
    return part, take


def pairs_of(alignment):
    """position in `played` -> note of the part."""
    return {int(str(pair["performance_id"])[1:]): int(str(pair["score_id"])[1:])
            for pair in alignment if pair["label"] == "match"}


def automatic(performance):
    import parangonar
    return pairs_of(parangonar.AutomaticNoteMatcher()(*arrays(performance), verbose_time=False))


def dual_dtw(performance):
    import parangonar
    return pairs_of(parangonar.DualDTWNoteMatcher()(*arrays(performance)))


def edit_distance(performance):
    return played_through(performance)[0].path()


def edit_distance_online(performance):
    return played_through(performance)[1]


def played_through(performance):
    matcher = EditDistance([note.midi for note in performance.notes], [note.onset for note in performance.notes])
    places = {}
    for at, note in enumerate(performance.played):
        matcher.play(note.onset, note.midi)
        places[at] = matcher.here()
    return matcher, places


def by_position(make):
    """An online matcher that returns where in the part it is after each note."""
    def run(performance):
        part, take = arrays(performance)
        matcher = make(part)
        places = {}
        for at, note in enumerate(take):
            place = int(matcher(note))
            places[at] = place if 0 <= place < len(part) and part["pitch"][place] == note["pitch"] else None
        return places
    return run


def oltw(part):
    import parangonar
    return parangonar.OLTWMatcher(part, tracker_type="SL_OLTW")


def tempo_oltw(part):
    import parangonar
    return parangonar.TOLTWMatcher(part, tracker_type="SLT_OLTW")


def network(name):
    """One of those with a network, by position."""
    def make(part):
        import parangonar
        return getattr(parangonar, name)(part)
    return by_position(make)


def network_pairing(name):
    """One of those with a network, pairing notes as they come; it never takes a pair back."""
    def run(performance):
        import parangonar
        part, take = arrays(performance)
        return pairs_of(getattr(parangonar, name)(part).offline(take))
    return run


OFFLINE = {
    "edit distance": edit_distance,
    "parangonar DualDTWNoteMatcher": dual_dtw,
    "parangonar AutomaticNoteMatcher": automatic,
}
ONLINE = {
    "edit distance, note by note": edit_distance_online,
    "parangonar OLTWMatcher": by_position(oltw),
    "parangonar TOLTWMatcher": by_position(tempo_oltw),
    "parangonar OnlineTransformerMatcher, position": network("OnlineTransformerMatcher"),
    "parangonar OnlineTransformerMatcher, pairs": network_pairing("OnlineTransformerMatcher"),
    "parangonar OnlinePureTransformerMatcher, position": network("OnlinePureTransformerMatcher"),
    "parangonar OnlinePureTransformerMatcher, pairs": network_pairing("OnlinePureTransformerMatcher"),
}
# Those that need torch; those whose time grows with the square (a line of 1,200 notes: over two minutes).
WITH_TORCH = set(list(ONLINE)[-4:])
SQUARE = {"parangonar AutomaticNoteMatcher"}
# Too slow, or too much to install, for every run.
BY_HAND = WITH_TORCH | SQUARE


def run(name, performance):
    """One matcher on one performance: (tally, seconds)."""
    logging.disable(logging.WARNING)
    warnings.filterwarnings("ignore")
    random.seed(0)
    np.random.seed(0)
    if name in WITH_TORCH:
        import torch
        torch.set_num_threads(1)
    tally = placement.Tally()
    begun = time.process_time()
    try:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            found = {**OFFLINE, **ONLINE}[name](performance)
    except ImportError:
        raise
    except Exception:  # whatever a library raises on odd input
        found = {}
        tally.failed = 1
    seconds = time.process_time() - begun
    if name in OFFLINE:
        placement.offline(performance, found, tally, [])
    else:
        tally.takes, tally.notes = 1, len(performance.played)
        placement.online(performance, {at: (place,) * 3 for at, place in found.items()}, tally, [])
    return tally, seconds
