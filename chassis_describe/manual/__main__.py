"""``python3 -m chassis_describe.manual`` writes the generated tables of the chapters anew, in this checkout."""
from __future__ import annotations

from chassis_describe.manual.chapters import CHAPTERS, FOLDER
from chassis_describe.manual.tables import filled


def main() -> int:
    """Write each chapter that differs."""
    for name in CHAPTERS:
        path = FOLDER / f"{name}.md"
        old = path.read_text(encoding="utf-8")
        new = filled(name, old)
        if new != old:
            path.write_text(new, encoding="utf-8", newline="\n")
            print(f"{path.name} rewritten")
    print("the tables of the manual are up to date")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
