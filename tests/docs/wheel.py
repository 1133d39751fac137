"""What a built wheel holds: ``python tests/docs/wheel.py dist/*.whl`` says what is missing.

Description as the README, licence text, the guide's pages, the texts, templates and the
mark of types; nothing of the tests.
"""

from __future__ import annotations

import sys
import zipfile
from email import message_from_bytes
from pathlib import Path

TOP = Path(__file__).parents[2]
SHIPPED = ("guide/*.md", "words/*.toml", "show/templates/*", "py.typed", "LICENSE", "**/*.py")


def missing(wheel: Path) -> list[str]:
    """What should be in the wheel or its metadata and is not, one line each."""
    package = TOP / "hayweather"
    wanted = {file for kind in SHIPPED for file in package.glob(kind) if file.is_file()}
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        (head,) = (name for name in names if name.endswith(".dist-info/METADATA"))
        metadata = message_from_bytes(archive.read(head))
        licences = [name for name in names if "/licenses/" in name and name.endswith("LICENSE")]
        texts = [archive.read(name) for name in licences]
        data = {part: archive.read(name) for name in names
                if (part := name.partition(".data/data/share/hayweather/")[2])}  # fmt: skip
    left = [str(file.relative_to(TOP)) for file in sorted(wanted)]
    found = [f"not shipped: {name}" for name in left if name not in names]
    foreign = {name for name in names if _foreign(name) and ".data/data/share/" not in name}
    found += [f"shipped, but no part: {name}" for name in sorted(foreign)]
    sample = {str(file.relative_to(TOP)): file.read_bytes()
              for file in (TOP / "sample_forecasts").rglob("*.*") if file.is_file()}  # fmt: skip
    found += [f"sample not shipped as it is: {name}" for name in sorted({*sample, *data})
              if sample.get(name) != data.get(name)]  # fmt: skip
    if (package / "LICENSE").read_bytes() not in texts:
        found.append("no licence text in the metadata")
    if metadata["License-Expression"] != "BSD-3-Clause":
        found.append("no licence expression")
    if metadata["Description-Content-Type"] != "text/markdown":
        found.append("the description is not called Markdown")
    readme = (TOP / "README.md").read_text(encoding="utf-8").strip()
    if str(metadata.get_payload()).strip() != readme:
        found.append("the description is not the README")
    if not metadata["Summary"] or not metadata["Keywords"]:
        found.append("no summary or keywords")
    return found


def _foreign(name: str) -> bool:
    """Whether a file belongs neither to the package nor to its metadata."""
    return not name.startswith("hayweather/") and ".dist-info/" not in name


if __name__ == "__main__":
    wrong = [line for path in sys.argv[1:] for line in missing(Path(path))]
    print("\n".join(wrong) if wrong else f"whole: {', '.join(sys.argv[1:])}")
    raise SystemExit(bool(wrong))
