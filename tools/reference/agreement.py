"""Counts how often restward and music21 agree. Used by theory_against_music21.py and sheets_against_music21.py."""


class Agreement:
    """The checks of one script; `command` is the restward command that it asks."""

    def __init__(self, command):
        self.command = command
        self.checks = self.failures = self.told = 0

    def check(self, what, ours, theirs):
        """One fact, as both have it."""
        self.checks += 1
        if ours != theirs:
            self.failures += 1
            print(f"DISAGREE  {what}: restward {ours}, music21 {theirs}")

    def tell(self, what):
        """Says that both agree in all that was checked since the last word, unless they do not."""
        if self.failures == self.told:
            print(f"agree     {what}")
        self.told = self.failures

    def finish(self):
        """Prints the outcome; the exit status."""
        outcome = f"{self.failures} disagree" if self.failures else "all agree"
        print(f"{self.checks} checks, {outcome} (music21 against restward {self.command})")
        return 1 if self.failures else 0
