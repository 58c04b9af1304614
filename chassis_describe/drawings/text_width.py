"""How wide a line of text is at most, in the fonts that a drawing asks for."""
from __future__ import annotations

#: Advance widths of ASCII 32 … 126 in thousandths of the font size: the wider of Liberation Sans 2 (which has Helvetica's
#: widths) and DejaVu Sans 2.37, read from the fonts' own tables.
_PLAIN = (318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636,
          636, 636, 636, 337, 337, 838, 838, 838, 556, 1015, 684, 686, 722, 770, 667, 611, 778, 752, 295, 500, 667, 557, 863,
          748, 787, 667, 787, 722, 667, 611, 732, 684, 989, 685, 667, 685, 390, 337, 390, 838, 556, 500, 613, 635, 550, 635,
          615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636,
          337, 636, 838)
_BOLD = (348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696, 696, 696, 696, 696,
         696, 696, 696, 400, 400, 838, 838, 838, 611, 1000, 774, 762, 734, 830, 683, 683, 821, 837, 372, 556, 775, 637, 995,
         837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457, 365, 457, 838, 556, 500, 675, 716, 593, 716,
         678, 435, 716, 712, 343, 343, 665, 343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712,
         365, 712, 838)
#: Of a letter that is in neither table (an accented capital, a sign); ideographs are as wide as the font is high.
_OTHER = 1000
#: Height of what stands over the base line and depth of what hangs under it, in font sizes.
ASCENT, DESCENT = 0.76, 0.24


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width in mm of a line at a font size in mm; no font of the style's list is wider."""
    table = _BOLD if bold else _PLAIN
    return sum(table[ord(c) - 32] if 32 <= ord(c) < 127 else _OTHER for c in text) * size / 1000


def line_width(text: str, size: float, bold: bool = False, tail: str = "") -> float:
    """Width in mm of a line with what follows it in plain type."""
    return text_width(text, size, bold) + (text_width(f" {tail}", size) if tail else 0.0)


def wrapped(text: str, size: float, width: float) -> list[str]:
    """The text in lines no wider than ``width``; a word that is wider alone is cut."""
    lines: list[str] = []
    now = ""
    for word in text.split():
        while text_width(word, size) > width:
            cut = len(word) - 1
            while cut > 1 and text_width(word[:cut], size) > width:
                cut -= 1
            lines += [now] if now else []
            lines.append(word[:cut])
            now, word = "", word[cut:]
        longer = f"{now} {word}" if now else word
        if text_width(longer, size) > width:
            lines.append(now)
            now = word
        else:
            now = longer
    return [*lines, now] if now else lines
