"""What the tests of one stage say, sorted by what it may lead to; judge.py weighs the lists in its fixed order."""


class Notes:
    """Lists of reasons. A test adds to them and never decides the verdict itself."""

    def __init__(self) -> None:
        self.replace: list[dict[str, object]] = []  # proven: condemns by itself
        self.dry: list[dict[str, object]] = []  # the readings are no use until the filter is dry and cold
        self.above: list[dict[str, object]] = []  # restriction above the window
        self.once: list[dict[str, object]] = []  # above it by so little that one reading alone condemns nothing
        self.unproven: list[dict[str, object]] = []  # would condemn, but too little was tested
        self.leak: list[dict[str, object]] = []  # a leak is suspected
        self.dirty: list[dict[str, object]] = []  # asks for cleaning
        self.hold: list[dict[str, object]] = []  # blocks OK only
        self.missing: list[dict[str, object]] = []  # tests missing or doubtful: block OK only
        self.passed: list[dict[str, object]] = []
        self.findings: list[dict[str, object]] = []
        self.settle: list[dict[str, object]] = []
        self.is_close = False
        self.is_wet = False  # found wet with water: the restriction does not count until it is dry

    def to_settle(self, reason: dict[str, object]) -> None:
        """Adds what would settle the question, once."""
        if reason not in self.settle:
            self.settle.append(reason)
