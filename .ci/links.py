"""Do the links and pictures of documents lead somewhere inside the folder they were packed in?

    python3 -B links.py FOLDER

Looks at every `.md` and `.svg` file of the folder: what a link names must lie in the folder, and a
place within it must be one of the document's headings, or of the drawing's names.
"""

import pathlib
import re
import sys

# `[words](place)` and `![words](place)`; in drawings what is fetched beside them.
LINK = {".md": re.compile(r"\]\(([^)\s]+)\)"), ".svg": re.compile(r"\bhref=\"([^\"]+)\"")}


def places(path):
    """Places within a file: of a drawing its names, of a document its headings, as they are linked
    (lower case, hyphens for spaces)."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".svg":
        return set(re.findall(r"\bid=\"([^\"]+)\"", text))
    headings = re.findall(r"^#+ (.*)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", line.lower()).replace(" ", "-") for line in headings}


def faults(folder):
    """Links that lead nowhere or out of the folder, and how many links there are."""
    found, count = [], 0
    for path in sorted(p for p in folder.rglob("*") if p.suffix in LINK):
        for link in LINK[path.suffix].findall(path.read_text(encoding="utf-8")):
            count += 1
            name, _, place = link.partition("#")
            to = (path.parent / name).resolve() if name else path
            inside = to.is_relative_to(folder)
            if not inside or not to.exists():
                found.append(f"{path.relative_to(folder)}: {link}")
            elif place and (to.suffix not in LINK or place not in places(to)):
                found.append(f"{path.relative_to(folder)}: {link}: no such place in it")
    return found, count


def main(name):
    folder = pathlib.Path(name).resolve()
    found, count = faults(folder)
    for fault in found:
        print(f"leads nowhere: {fault}", file=sys.stderr)
    if not count:
        print(f"{folder}: no links at all", file=sys.stderr)
    print(f"{folder.name}: {count} links, {len(found)} lead nowhere")
    return 1 if found or not count else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
