"""The blocks of the paper report, from the verdict down to the small print, in the order in which an owner reads them."""

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph

from ..lettering import markup, width_pt
from .paper_blocks import ACCENT, COLOURS, INK, LINE, RIGHT, SOFT, TINT, Setting, Shape

Blocks = list[list[Flowable]]


class Story:
    """One content, set in one way."""

    def __init__(self, content: dict, words: dict[str, str], setting: Setting) -> None:
        self.content, self.words, self.set = content, words, setting

    def blocks(self, photos: Blocks) -> Blocks:
        """All blocks, each of which is kept on one page where it fits on one. photos: the blocks of the photos."""
        content, said, words = self.content, self.set.said, self.words
        head = self._head() + [said(mark, 10.5, COLOURS["replace"], is_bold=True) for mark in content.get("marks", [])]
        right = self._next() + self.set.heading(words["report.facts"]) + self._facts(self.set.width * RIGHT)
        return [head + self._verdict(), [self.set.two_columns(self._why(), right)],
                self.set.heading(words["report.readings"]) + self._readings(), *photos, self._owner() + self._small()]

    def _head(self) -> list[Flowable]:
        content, said = self.content, self.set.said
        left = [said(content["shop"]["name"] or content["title"], 13, is_bold=True)]
        if content["shop"]["address"]:
            left.append(said(content["shop"]["address"], 8, SOFT))
        told = [text for text in (content["work_order"], content["issue"]) if text]
        one_line = "  ·  ".join(told)
        lines = [one_line] if width_pt(one_line, 8) <= self.set.width * 0.5 else told
        right = [said(content["title"], 13, ACCENT, is_bold=True, align=2),
                 *[said(line, 8, SOFT, align=2) for line in lines]]
        return [self.set.grid([[left, right]], [self.set.width * 0.5] * 2, [
            ("LINEBELOW", (0, 0), (-1, -1), 1.2, INK), ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
            ("RIGHTPADDING", (-1, 0), (-1, 0), 0)]), self.set.gap(8)]

    def _verdict(self) -> list[Flowable]:
        """The verdict large with its shape and one sentence; beside it whether it is signed; beneath, before and after."""
        said, content = self.set.said, self.content
        verdict, status, decision = content["verdict"], content["status"], content["decision"]
        is_final, colour = status["code"] == "final", COLOURS[verdict["code"]]
        word = [said(verdict["word"], 25, colour, is_bold=True), self.set.gap(2), said(verdict["meaning"], 10.5)]
        signed = [said(status["word"], 10.5, INK if is_final else COLOURS["replace"], is_bold=True)]
        lines = [decision["person"], decision["at"]] if decision and is_final else [status["text"]]
        signed += [said(line, 8.5, SOFT) for line in lines if line]
        band = self.set.grid([[Shape(verdict["code"], 15 * mm), word, signed]], [
            20 * mm, self.set.width - 68 * mm, 48 * mm], [
            ("LINEBEFORE", (2, 0), (2, 0), 0.5, LINE), ("LEFTPADDING", (2, 0), (2, 0), 8),
            ("VALIGN", (0, 0), (0, 0), "MIDDLE"), ("VALIGN", (2, 0), (2, 0), "MIDDLE")])
        return [band, self.set.gap(6), *self._stages(), *[said(line, 9, COLOURS["replace"]) for line in content["why"]]]

    def _stages(self) -> list[Flowable]:
        """As found → after cleaning → what came off, in one ruled line, each with its figures."""
        content, said = self.content, self.set.said
        cells: list[list[Flowable]] = []
        for stage in content["stages"]:
            line = Paragraph(markup(stage["word"], True), self.set.style(11.5, COLOURS[stage["code"]]))
            signed = self.set.grid([[Shape(stage["code"], 4 * mm), line]], [6 * mm, None], [
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("TOPPADDING", (0, 0), (-1, -1), 0)])
            cells.append([said(stage["title"], 8, SOFT), signed, *[said(text, 8.5) for text in stage.get("figures", [])]])
        if content["removed"]:
            cells.append([said(content["removed"]["figure"], 11.5, is_bold=True),
                          said(content["removed"]["text"], 8, SOFT)])
        if content.get("limit"):
            cells.append([said(self.words["report.limits"], 8, SOFT), said(content["limit"]["figure"], 10, is_bold=True),
                          said(content["limit"]["from"], 8, SOFT)])
        first = content["stages"][0]
        if len(cells) == 1 and not first.get("figures") and first["code"] == content["verdict"]["code"]:
            return []
        return [self.set.grid([cells], [self.set.width / len(cells)] * len(cells), [
            ("BACKGROUND", (0, 0), (-1, -1), TINT), ("LINEBEFORE", (1, 0), (-1, -1), 0.5, LINE),
            ("LEFTPADDING", (0, 0), (-1, -1), 8), ("TOPPADDING", (0, 0), (-1, -1), 4),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 4)]), self.set.gap(3)]

    def _why(self) -> list[Flowable]:
        """What was decided, where the head does not tell all of it; then the reasons of each stage, the last stage first,
        with the numbers of the notes on where limits come from.
        """
        content, said, decision = self.content, self.set.said, self.content["decision"]
        found = self.set.heading(self.words["report.why"])
        if decision:
            is_final = content["status"]["code"] == "final"
            found += [said(line, 9, is_bold=True) for line in decision["lines"][1 if is_final else 0:]]
        for stage in reversed(content["stages"]):
            if len(content["stages"]) > 1 or stage["reading"] != stage["word"]:
                found.append(said(stage["title"] + ": " + stage["reading"], 8.5, SOFT, is_bold=True))
            found += [self.set.item(entry["text"], entry["note"]) for entry in stage["reasons"] + stage["findings"]]
            if stage["close"]:
                found.append(self.set.item(stage["close"]))
        if content["limit_note"]:
            found.append(said(content["limit_note"], 9, is_bold=True))
        return found + [said(f"{number}  {note}", 7, SOFT) for number, note in enumerate(content["notes"], 1)]

    def _next(self) -> list[Flowable]:
        return self.set.heading(self.words["report.next"]) + [self.set.item(text) for text in self.content["next"]] \
            + [self.set.said(self.content["next_note"], 8)]

    def _facts(self, width_pt: float) -> list[Flowable]:
        """Label over text, two in a row."""
        said = self.set.said
        cells: list = [[said(fact["label"], 7, SOFT), said(fact["text"], 9)] for fact in self.content["facts"]]
        rows = [cells[start:start + 2] + [""] * (2 - len(cells[start:start + 2])) for start in range(0, len(cells), 2)]
        return [self.set.grid(rows, [width_pt / 2] * 2)] if rows else []

    def _readings(self) -> list[Flowable]:
        """Test | field | as found | after cleaning; a hairline between tests; what the tests are, beneath."""
        said, words, content = self.set.said, self.words, self.content
        rows: list[list] = [["", "", said(words["report.before"], 8, SOFT, is_bold=True),
                             said(words["report.after"], 8, SOFT, is_bold=True)]]
        ruled: list = [("LINEBELOW", (0, 0), (-1, 0), 0.8, INK)]
        for test in content["table"]:
            for number, row in enumerate(test["rows"]):
                rows.append([said(test["title"] if number == 0 else "", 8.5, is_bold=True), said(row["label"], 8, SOFT),
                             self._reading(row, "before"), self._reading(row, "after")])
            ruled.append(("LINEBELOW", (0, len(rows) - 1), (-1, len(rows) - 1), 0.4, LINE))
        for number, line in enumerate(content["rounds"]):
            rows.append([said(words["report.rounds"] if number == 0 else "", 8.5, is_bold=True), said(line["label"], 8, SOFT),
                         said(self._round(line), 8.5), ""])
            ruled.append(("SPAN", (2, len(rows) - 1), (3, len(rows) - 1)))
        limits = "  ·  ".join(f"{pair['label']}: {pair['text']}" for pair in content["limits"])
        if limits:
            rows.append([said(words["report.limits"], 8.5, is_bold=True), said(limits, 8), "", ""])
            ruled += [("SPAN", (1, len(rows) - 1), (3, len(rows) - 1)),
                      ("LINEABOVE", (0, len(rows) - 1), (-1, len(rows) - 1), 0.4, LINE)]
        ruled += [("TOPPADDING", (0, 0), (-1, -1), 0.6 * self.set.air),
                  ("BOTTOMPADDING", (0, 0), (-1, -1), 0.5 + 0.5 * self.set.air)]
        left, rest = [20 * mm, 44 * mm], (self.set.width - 64 * mm) / 2
        found: list[Flowable] = [self.set.grid(rows, [*left, rest, rest], ruled, header_rows=1)]
        small = [text for text in (" ".join(content.get("measured", [])), content.get("legend", "")) if text]
        return found + [part for text in small for part in (self.set.gap(3), said(text, 7, SOFT))]

    def _round(self, line: dict) -> str:
        """What was done in a round, and what the filter weighed after it."""
        weighed = self.words["report.round_weighed"].replace("{weight}", line["weight"]) if line["weight"] else ""
        return "; ".join(text for text in (line["text"], weighed) if text)

    def _reading(self, row: dict, stage: str) -> Paragraph:
        if row[stage] == self.words["report.not_done"]:
            return self.set.said(row[stage], 8, SOFT)
        return self.set.said(row[stage], 8.5, is_bold=row["is_key"])

    def _owner(self) -> list[Flowable]:
        """What the owner said."""
        answers = [pair["label"] + ": " + pair["text"] for pair in self.content["owner_answer"]]
        return [*self.set.heading(self.words["report.owner_answer"]),
                self.set.said("  ·  ".join(answers or [self.words["report.owner_silent"]]), 8.5)]

    def _small(self) -> list[Flowable]:
        cautions = markup(self.words["report.cautions"] + ". ", True) + markup(" ".join(self.content["cautions"]))
        small = " ".join(text for text in [self.content["thresholds"], *self.content["small"]] if text)
        return [self.set.gap(5), Paragraph(cautions, self.set.style(7.6)), self.set.gap(3), self.set.said(small, 6.5, SOFT)]
