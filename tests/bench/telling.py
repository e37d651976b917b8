"""How the benchmarks tell what they measured: medians of interleaved runs, each beside its baseline and its limit."""

import os
import statistics

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


class Table:
    """Lines of measured, baseline, ratio, limit; is_good while every limit holds."""

    def __init__(self):
        self.is_good = True
        print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        print(f"{'what':64} {'measured':>12} {'baseline':>12} {'ratio':>7} {'limit':>7}")

    def times(self, what, measured, baseline, limit=None):
        """Seconds of interleaved runs."""
        ratio = statistics.median(measured) / statistics.median(baseline)
        spread = f"{min(measured) * 1000:.0f}..{max(measured) * 1000:.0f}"
        self._line(what, f"{statistics.median(measured) * 1000:.1f} ms", f"{statistics.median(baseline) * 1000:.1f} ms",
                   f"{ratio:.2f}", limit, ratio, f"   ({spread} ms, {len(measured)} runs)")

    def sizes(self, what, measured, baseline, limit=None):
        """Bytes."""
        ratio = measured / baseline
        self._line(what, f"{measured:,} B", f"{baseline:,} B", f"{ratio:.2f}", limit, ratio)

    def count(self, what, measured, limit=None, baseline="", unit=""):
        """One figure by itself, with its own limit."""
        self._line(what, f"{measured:,.4g}{unit}", str(baseline), "", limit, measured)

    def _line(self, what, measured, baseline, ratio, limit, compared, more=""):
        is_good = limit is None or compared <= limit
        self.is_good = self.is_good and is_good
        print(f"{what:64} {measured:>12} {baseline:>12} {ratio:>7} {limit if limit is not None else '':>7}"
              f"{'' if is_good else '  TOO MUCH'}{more}", flush=True)

    def end(self):
        """The exit code, and the load at the end."""
        print(f"load {os.getloadavg()[0]:.1f} at the end")
        return 0 if self.is_good else 1


def tag_of(number):
    """The code of a seeded tag: seven characters of the alphabet and the two check digits."""
    from webform.trade.tag_code import complete

    body = ""
    for _ in range(7):
        number, digit = divmod(number, len(ALPHABET))
        body = ALPHABET[digit] + body
    return complete(body)
