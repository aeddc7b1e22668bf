#!/usr/bin/env python3
"""Tests of the measuring tools themselves: python -m unittest discover -s tools/measure.

Above all: whatever faults are put on a performance, its truth still says of every played note what it is.
"""

import collections
import pathlib
import random
import sys
import tempfile
import unittest
from unittest import mock

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import faults  # noqa: E402
import flags  # noqa: E402
import goals  # noqa: E402
import longer  # noqa: E402
import matchers  # noqa: E402
import performances  # noqa: E402
import placement  # noqa: E402
import takefile  # noqa: E402
from edit_distance import EditDistance  # noqa: E402
from performances import Note, Performance, Played  # noqa: E402

SCALE = (60, 62, 64, 65, 67, 69, 71, 72)


def performance(name="tune", count=80, quarter=0.5, seed=0):
    """A made-up player of a made-up tune: quarters in measures of four, slightly uneven, notes a little detached."""
    rng = random.Random(seed)
    notes = tuple(Note(float(at), 1.0, SCALE[(at * at + 3 * at) % 8]) for at in range(count))
    onsets = [1.0 + quarter * (at + rng.uniform(-0.1, 0.1)) for at in range(count + 1)]
    played = tuple(Played(onsets[at], onsets[at] + 0.8 * (onsets[at + 1] - onsets[at]), note.midi, 80, at)
                   for at, note in enumerate(notes))
    return Performance(name, "tune", "as played", pathlib.Path("tune.musicxml"), notes, tuple(range(0, count, 4)), played)


def without_mistakes():
    return mock.patch.object(faults, "mistakes", lambda played, rng: list(played))


class Faults(unittest.TestCase):
    def setUp(self):
        self.source = performance()
        self.siblings = [self.source, performance("other", quarter=0.62, seed=1), performance("third", quarter=0.4, seed=2)]

    def made(self, variant, seed):
        return faults.made(self.source, self.siblings, variant, seed)

    def test_same_name_and_seed_make_the_same_take(self):
        for variant in faults.VARIANTS:
            self.assertEqual(self.made(variant, 3), self.made(variant, 3))
            self.assertNotEqual(self.made(variant, 3).played, self.made(variant, 4).played)

    def test_truth_stays_consistent(self):
        for variant in faults.VARIANTS:
            for seed in range(30):
                with self.subTest(variant=variant, seed=seed):
                    self.check_truth(self.made(variant, seed))

    def check_truth(self, made):
        onsets = [note.onset for note in made.played]
        self.assertEqual(onsets, sorted(onsets))
        self.assertGreaterEqual(onsets[0], 0.5)
        self.assertTrue(all(note.release > note.onset for note in made.played))
        # What counts in the end goes once through the part, forward.
        final = [note.index for note in made.played if note.index is not None and not note.superseded]
        self.assertEqual(final, sorted(set(final)))
        # A note is what it stands for, or off by one or two semitones.
        for note in made.played:
            if note.index is not None:
                self.assertLessEqual(abs(note.midi - made.notes[note.index].midi), 2)
        # Passes begin where the part goes back, and each is superseded where a later one comes by.
        begins = performances.passes_begin(made.played)
        self.assertEqual(made.restarts, begins)
        spans = []
        for begin, end in zip((0, *begins), (*begins, len(made.played))):
            inside = [note.index for note in made.played[begin:end] if note.index is not None]
            spans.append((min(inside), max(inside)))
        for number, (begin, end) in enumerate(zip((0, *begins), (*begins, len(made.played)))):
            for note in made.played[begin:end]:
                later = note.index is not None and any(first <= note.index <= last for first, last in spans[number + 1:])
                self.assertEqual(note.superseded, later)

    def test_shares_are_three_per_cent(self):
        found = collections.Counter()
        for seed in range(200):
            played = faults.mistakes(self.source.played, random.Random(seed))
            found["wrong"] += sum(note.index is not None and note.midi != self.source.notes[note.index].midi for note in played)
            found["extra"] += sum(note.index is None for note in played)
            found["skipped"] += len(self.source.notes) - sum(note.index is not None for note in played)
        # 16,000 notes at 3 %: 480, with a standard deviation of 22 (binomial); extra ones follow kept notes only.
        for kind, number in found.items():
            self.assertTrue(480 - 4 * 22 < number < 480 + 4 * 22, f"{kind}: {number}")

    def test_restart_goes_back_to_a_measure(self):
        with without_mistakes():
            for seed in range(20):
                made = self.made("faults + restart", seed)
                at, = made.restarts
                first, stop = made.played[at].index, made.played[at - 1].index
                self.assertIn(first, made.openers)
                self.assertTrue(8 <= stop - first <= 20)
                self.assertTrue(0.45 <= made.played[at].onset - made.played[at - 1].release <= 1.5)
                self.assertEqual(sum(note.superseded for note in made.played), stop - first + 1)

    def test_one_measure_is_left_out(self):
        waited = 0
        with without_mistakes():
            for seed in range(20):
                made = self.made("faults + measure left out", seed)
                gone = sorted(set(range(80)) - {note.index for note in made.played})
                self.assertEqual(gone, list(range(gone[0], gone[0] + 4)))
                self.assertEqual(gone[0] % 4, 0)
                waited += made.played[-1].onset == self.source.played[-1].onset
        self.assertTrue(0 < waited < 20)

    def test_rush_is_fifteen_per_cent(self):
        with without_mistakes():
            made = self.made("faults + 15 % rush", 0)
        ratios = [(b.onset - a.onset) / (d.onset - c.onset) for a, b, c, d in
                  zip(self.source.played, self.source.played[1:], made.played, made.played[1:])]
        fast = [ratio for ratio in ratios if abs(ratio - 1.15) < 1e-9]
        self.assertTrue(12 <= len(fast) <= 32)
        self.assertTrue(all(abs(ratio - 1.0) < 1e-9 for ratio in ratios if ratio not in fast))

    def test_harsh_passes_are_of_other_players_and_may_begin_anywhere(self):
        firsts = set()
        for seed in range(40):
            made = self.made("harsh: restarts anywhere", seed)
            firsts.update(made.played[at].index % 4 for at in made.restarts)
            self.assertGreaterEqual(len(made.restarts), 1)
        self.assertEqual(firsts, {0, 1, 2, 3})


class LongLines(unittest.TestCase):
    TUNE = """<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>A</part-name></score-part></part-list>
    <part id="P1"><measure number="0" implicit="yes"><attributes><divisions>2</divisions><key><fifths>-2</fifths></key>
    <time><beats>2</beats><beat-type>4</beat-type></time><clef><sign>G</sign><line>2</line></clef></attributes>
    <note id="s0"><pitch><step>B</step><alter>-1</alter><octave>4</octave></pitch><duration>1</duration></note></measure>
    <measure number="1"><note id="s1"><pitch><step>C</step><octave>5</octave></pitch><duration>2</duration></note>
    <note id="s2"><pitch><step>F</step><octave>4</octave></pitch><duration>1</duration></note>
    <note><rest/><duration>1</duration></note></measure></part></score-partwise>"""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        path = self.folder / "tune.musicxml"
        path.write_text(self.TUNE, encoding="utf-8")
        notes = (Note(0.0, 0.5, 70), Note(0.5, 1.0, 72), Note(1.5, 0.5, 65))
        self.players = [
            Performance(name, "tune", "as played", path, notes, performances.openers(path), tuple(
                Played(1 + pace * note.onset, 1 + pace * (note.onset + 0.4), note.midi, 80, at)
                for at, note in enumerate(notes)))
            for name, pace in (("slow", 1.0), ("fast", 0.5))]

    def test_partitura_reads_the_same_notes(self):
        import partitura

        line, = longer.lines(self.players, 9, "other keys", 1, self.folder)
        read = partitura.load_musicxml(line.exercise).note_array()
        first = read["onset_quarter"][0]
        self.assertEqual([(note.onset, note.value, note.midi) for note in line.notes],
                         [(onset - first, value, midi) for onset, value, midi in
                          zip(read["onset_quarter"], read["duration_quarter"], read["pitch"])])
        self.assertEqual(performances.openers(line.exercise), line.openers)
        self.assertEqual([note.midi for note in line.notes], [70, 72, 65, 75, 77, 70, 68, 70, 63])

    def test_rounds_follow_in_time_at_the_first_tempo(self):
        line, = longer.lines(self.players, 9, "same key", 1, self.folder)
        paces = [(b.onset - a.onset) / (line.notes[b.index].onset - line.notes[a.index].onset)
                 for a, b in zip(line.played, line.played[1:])]
        self.assertEqual([note.index for note in line.played], list(range(9)))
        self.assertTrue(all(abs(pace - paces[0]) < 1e-9 for pace in paces), paces)

    def test_no_key_comes_twice(self):
        self.assertEqual(len(set(longer.KEYS)), len(longer.KEYS))


class Scores(unittest.TestCase):
    def test_f1_is_that_of_mir_eval(self):
        import mir_eval

        precision, recall, f1 = placement.score(80, 10, 20)
        self.assertEqual((precision, recall), (80 / 90, 0.8))
        self.assertAlmostEqual(f1, mir_eval.util.f_measure(precision, recall))
        self.assertEqual(placement.score(0, 5, 5)[2], 0.0)

    def test_percentile(self):
        self.assertEqual(placement.percentile([4, 1, 3, 2], 0.5), 2)
        self.assertEqual(placement.percentile(list(range(1, 11)), 0.9), 9)
        self.assertEqual(placement.percentile([7], 0.9), 7)
        self.assertIsNone(placement.percentile([], 0.5))

    def test_offline_counts(self):
        """Four notes: one right, one wrongly pitched (neutral), one at the wrong place (false and missed), one not placed; an
        extra note that is placed is false."""
        source = performance(count=4)
        played = [*source.played]
        played[1] = Played(played[1].onset, played[1].release, played[1].midi + 1, 80, 1)
        played.append(Played(9.0, 9.1, 60, 80, None))
        one = Performance("x", "tune", "x", source.exercise, source.notes, source.openers, tuple(played))
        tally = placement.Tally()
        placement.offline(one, {0: 0, 1: 1, 2: 3, 4: 2}, tally, [])
        self.assertEqual(tally.offline, {"right": 1, "false": 2, "missed": 2})

    def test_offline_counts_as_parangonar_does(self):
        """Without wrong pitches, which it does not treat apart: parangonar 3.4, fscore_alignments of matches."""
        import parangonar

        source = performance(count=60)
        rng = random.Random(0)
        pairs = {at: min(59, at + rng.choice((0, 0, 0, 0, 1))) for at in range(60) if rng.random() > 0.1}
        tally = placement.Tally()
        placement.offline(source, pairs, tally, [])

        def matches(pairs):
            return [{"label": "match", "score_id": index, "performance_id": at} for at, index in pairs.items()]

        theirs = parangonar.fscore_alignments(matches(pairs), matches({at: at for at in range(60)}), ["match"])
        self.assertLess(theirs[2], 0.9)
        for ours, other in zip(tally.offline_score(), theirs):
            self.assertAlmostEqual(ours, other)

    def test_what_is_said_later_counts_later(self):
        source = performance(count=3)
        (a, b, c), midi = [note.onset for note in source.played], [note.midi for note in source.played]
        lines = [
            {"event": "placed", "at_s": a + 0.03, "onset_s": a, "midi": midi[0], "index": 1},
            {"event": "placed", "at_s": b + 0.03, "onset_s": b, "midi": midi[1], "index": 1},
            {"event": "placed", "at_s": b + 0.03, "onset_s": a, "midi": midi[0], "index": None},
            {"event": "flag", "at_s": b + 0.03, "index": 0, "flag": "missed-note"},
            {"event": "placed", "at_s": c + 0.04, "onset_s": c, "midi": midi[2], "index": 2},
            {"event": "placed", "at_s": c + 0.04, "onset_s": a, "midi": midi[0], "index": 0},
        ]
        announced, lag_ms = placement.of_lines(source, lines)
        self.assertEqual(announced, {0: (1, None, 0), 1: (1, 1, 1), 2: (2, 2, 2)})
        self.assertEqual([round(value) for value in lag_ms], [30, 30, 40])
        tally = placement.Tally()
        placement.online(source, announced, tally, [])
        self.assertEqual([tally.online["right", wait] for wait in placement.WAITS], [2, 2, 3])
        self.assertEqual(tally.online["near"], 3)

    def test_right_again_wants_two_in_a_row(self):
        source = performance(count=10)
        places = {at: (at,) for at in range(10)}
        places[4], places[6] = (9,), (9,)
        self.assertEqual(placement.recovery(source, places, 4, 10), 4)
        self.assertEqual(placement.recovery(source, {}, 4, 10), 7)

    def test_flags_right_false_and_missed(self):
        def note(index, found):
            return {"index": index, "flags": found, "ignore": [], "measure": "1", "written": "C4", "played": None,
                    "onset_s": None, "release_s": None}

        truth = {"judged": {"entrances": True, "releases": True}, "clean": False, "groups": [],
                 "notes": [note(0, ["wrong-note"]), note(1, ["missed-note"]), note(2, [])]}
        report = {"notes": [note(0, ["wrong-note"]), note(1, []), note(2, ["cut-short"])]}
        tally = flags.Tally()
        flags.compare_flags(truth, report, tally, [])
        self.assertEqual(tally.kinds, {"wrong-note": [1, 0, 0], "missed-note": [0, 0, 1], "cut-short": [0, 1, 0]})
        self.assertEqual(tally.all_flags(), [1, 1, 1])


class Goals(unittest.TestCase):
    def test_least_and_most(self):
        wanted = [{"figure": "short, a: F1", "least": 0.9, "floor": 0.8}, {"figure": "flags: false", "most": 1, "floor": 2},
                  {"figure": "long, b: F1", "least": 0.9, "floor": 0.8}]
        rows = goals.judged({"short, a: F1": 0.8, "flags: false": 2.5}, wanted)
        self.assertEqual([(figure, met, holds) for figure, _, _, _, met, _, holds in rows],
                         [("short, a: F1", False, True), ("flags: false", False, False)])

    def test_a_figure_that_does_not_exist_is_told(self):
        with self.assertRaises(SystemExit):
            goals.judged({"short, a: F1": 0.8}, [{"figure": "short, a: f1", "least": 0.9, "floor": 0.8}])

    def test_floors_are_not_above_goals(self):
        for goal in goals.read():
            if "least" in goal:
                self.assertLessEqual(goal["floor"], goal["least"], goal["figure"])
            else:
                self.assertGreaterEqual(goal["floor"], goal["most"], goal["figure"])


class TakeFiles(unittest.TestCase):
    def test_written_is_read(self):
        with tempfile.TemporaryDirectory() as folder:
            path = pathlib.Path(folder) / "x.mid"
            # Ticks of 1/960 s: these times are exact. The first 60 is cut where 60 is struck again.
            takefile.write(path, [(0.5, 1.5, 60, 70), (1.0, 2.0, 60, 80), (0.75, 1.25, 64, 90)])
            self.assertEqual(takefile.read(path), [(0.5, 1.0, 60, 70), (0.75, 1.25, 64, 90), (1.0, 2.0, 60, 80)])


class Matchers(unittest.TestCase):
    def test_edit_distance_by_hand(self):
        """Part C D E F G in even quarters. Played: C, an extra B, D, (E skipped) F, G."""
        matcher = EditDistance([60, 62, 64, 65, 67], [0.0, 1.0, 2.0, 3.0, 4.0])
        here = []
        for onset, midi in ((0.0, 60), (0.4, 71), (1.0, 62), (3.0, 65), (4.0, 67)):
            matcher.play(onset, midi)
            here.append(matcher.here())
        self.assertEqual(matcher.path(), {0: 0, 2: 1, 3: 3, 4: 4})
        # The extra note is given the best place for it: a wrong D, which the real one then takes over.
        self.assertEqual(here, [0, 1, 1, 3, 4])
        # One insertion and one skip, and all intervals even.
        self.assertAlmostEqual(matcher.costs[-1], 2.0)

    def test_every_matcher_follows_a_faultless_performance(self):
        source = performance(count=40)
        for name in [*matchers.OFFLINE, *matchers.ONLINE]:
            if name in matchers.WITH_TORCH:
                continue
            with self.subTest(matcher=name):
                tally, _ = matchers.run(name, source)
                self.assertEqual(tally.failed, 0)
                f1 = tally.offline_score()[2] if name in matchers.OFFLINE else tally.online_score(0)[2]
                # The tune repeats pitches, which the simplest of them takes badly.
                self.assertGreater(f1, 0.7)


if __name__ == "__main__":
    unittest.main()
