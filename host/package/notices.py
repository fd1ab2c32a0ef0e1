"""Write the notices of every crate in a program: name, version, licence, and its own texts.

usage: notices.py TARGET [PACKAGE], from the folder of the package's workspace; the notices go to
the standard output. The package is `trundle` if not said.
"""

import json
import pathlib
import subprocess
import sys

TEXTS = ("LICENSE", "LICENCE", "COPYING", "COPYRIGHT", "NOTICE", "UNLICENSE")


def contained(target, package):
    """The package itself, the licence of the project, and the crates of others in its program."""
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", target]
    metadata = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    packages = {package["id"]: package for package in metadata["packages"]}
    uses = {node["id"]: node["deps"] for node in metadata["resolve"]["nodes"]}
    waiting = [p["id"] for p in metadata["packages"] if p["name"] == package and not p["source"]]
    if not waiting:
        sys.exit(f"no package is called {package}")
    seen = set()
    while waiting:
        identity = waiting.pop()
        if identity in seen:
            continue
        seen.add(identity)
        # What only builds or tests the program is not in it.
        kinds = lambda dep: any(kind["kind"] is None for kind in dep["dep_kinds"])
        waiting += [dep["pkg"] for dep in uses[identity] if kinds(dep)]
    own = {packages[i]["license"] for i in seen if not packages[i]["source"]}
    if len(own) != 1 or None in own:
        sys.exit(f"the project's own crates do not state one licence: {own}")
    foreign = sorted((packages[i] for i in seen if packages[i]["source"]),
                     key=lambda p: (p["name"], p["version"]))
    top = next(p for p in metadata["packages"] if p["name"] == package and not p["source"])
    return top, own.pop(), foreign


def main(target, package="trundle"):
    _, own, foreign = contained(target, package)
    print(f"The program itself: {own}, copyright (c) 2026 the Trundle authors.\n")
    print("The program contains these crates, unchanged, each under its own licence. It also")
    print("contains the standard library of Rust (MIT OR Apache-2.0).")
    for crate in foreign:
        terms = crate["license"] or crate["license_file"]
        if not terms:
            sys.exit(f"{crate['name']} states no licence")
        print(f"\n{'=' * 72}\n{crate['name']} {crate['version']}: {terms}")
        print(f"source: {crate['repository'] or crate['homepage'] or 'not stated'}\n")
        folder = pathlib.Path(crate["manifest_path"]).parent
        for path in sorted(folder.iterdir()):
            if path.is_file() and path.name.upper().startswith(TEXTS):
                print(f"--- {path.name}\n{path.read_text(encoding='utf-8', errors='replace')}")
    print(f"{'=' * 72}\n{len(foreign)} crates")


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
