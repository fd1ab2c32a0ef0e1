"""Hold what the program is made of to `.ci/supply.toml`.

Reads `cargo metadata` from standard input: licences, where packages come from, versions beside
each other, build scripts and what they reach for, unsafe code in this workspace.
"""

import json
import pathlib
import re
import sys
import tomllib

# In two halves: the one public registry, by the name that Cargo gives it.
REGISTRY = "registry+https://github.com/rust-lang/crates" ".io-index"
# What a build script would need in order to fetch something. Subcommands of git as git spells them:
# "Clone" is a trait of Rust.
REACHES = re.compile(
    r"TcpStream|UdpSocket|to_socket_addrs|\b(reqwest|ureq|hyper|curl|wget|isahc|minreq)\b|git2::"
    r"|(?-i:\"(clone|fetch|submodule)\")|\bdownload", re.IGNORECASE)


def allowed(expression, licences):
    """Is an SPDX expression (and the older `A/B`) satisfied by these licences?"""
    words = re.findall(r"[()]|[^\s()]+", expression.replace("/", " OR "))
    at = 0

    def one():
        nonlocal at
        word = words[at]
        at += 1
        if word == "(":
            value = any_of()
            at += 1
            return value
        if at < len(words) and words[at] == "WITH":
            # An exception only ever grants more.
            at += 2
        return word in licences

    def all_of():
        nonlocal at
        value = one()
        while at < len(words) and words[at] == "AND":
            at += 1
            value = one() and value
        return value

    def any_of():
        nonlocal at
        value = all_of()
        while at < len(words) and words[at] == "OR":
            at += 1
            value = all_of() or value
        return value

    return any_of()


def script_texts(target):
    """The build script, and what stands beside it where it has a folder of its own."""
    path = pathlib.Path(target["src_path"])
    own = path.parent.name in ("build", "build_script")
    return [p.read_text(encoding="utf-8", errors="replace")
            for p in (sorted(path.parent.rglob("*.rs")) if own else [path])]


def held(what, found, listed, faults):
    for name in sorted(found - listed):
        faults.append(f"{name}: {what}, and .ci/supply.toml does not list it")
    for name in sorted(listed - found):
        faults.append(f"{name}: listed under {what}, but is not any more: take it out")


def forbids_unsafe(package, root):
    manifest = tomllib.loads(pathlib.Path(package["manifest_path"]).read_text(encoding="utf-8"))
    workspace = tomllib.loads((root / "Cargo.toml").read_text(encoding="utf-8"))
    lints = manifest.get("lints", {})
    if lints.get("workspace"):
        lints = workspace["workspace"]["lints"]
    return lints.get("rust", {}).get("unsafe_code") == "forbid"


def own_licence(metadata, root, faults):
    """Everything of ours states the licence that stands once in Cargo.toml; its texts are there."""
    read = lambda path: (root / path).read_text(encoding="utf-8")
    stated = tomllib.loads(read("Cargo.toml"))["workspace"]["package"]["license"]
    found = {p["name"]: p["license"] for p in metadata["packages"] if p["source"] is None}
    for path in ("firmware-sim/pico/Cargo.toml", "tests/fuzz/Cargo.toml"):
        found[path] = tomllib.loads(read(path))["package"].get("license")
    path = "firmware-sim/emulator/package.json"
    found[path] = json.loads(read(path)).get("license")
    for name, licence in sorted(found.items()):
        if licence != stated:
            faults.append(f"{name}: its licence is {licence}, the project's is {stated}")
    if f"License: {stated}," not in read("host/package/copyright"):
        faults.append(f"host/package/copyright does not say {stated}")
    for one in stated.split(" OR "):
        text = root / f"LICENSE-{one.split('-')[0].upper()}"
        if not text.is_file():
            faults.append(f"{text.name}: the text of the licence {one} is missing")
    print(f"our own licence: {stated}, stated by {len(found)} manifests")


def main():
    metadata = json.load(sys.stdin)
    root = pathlib.Path(metadata["workspace_root"])
    rules = tomllib.loads((root / ".ci/supply.toml").read_text(encoding="utf-8"))
    licences, excepted = set(rules["licences"]), rules["excepted"]
    faults, versions, scripts, unsafe, used = [], {}, set(), set(), set()
    own = set(metadata["workspace_members"])
    for package in metadata["packages"]:
        name, label = package["name"], f"{package['name']} {package['version']}"
        versions.setdefault(name, set()).add(package["version"])
        for target in package["targets"]:
            if "custom-build" in target["kind"]:
                scripts.add(name)
                for text in script_texts(target):
                    code = re.sub(r"//[^\n]*", "", text)
                    for word in {match.group(0) for match in REACHES.finditer(code)}:
                        faults.append(f"{label}: its build script says {word!r}: look at it")
        if package["id"] in own:
            if not forbids_unsafe(package, root):
                unsafe.add(name)
            continue
        if package["source"] != REGISTRY:
            faults.append(f"{label}: comes from {package['source']}")
        licence = package["license"] or "no licence"
        if name in excepted and licence == excepted[name]:
            used.add(name)
        elif not allowed(licence, licences):
            faults.append(f"{label}: its licence is {licence}")
    held("an exception", used, set(excepted), faults)
    doubled = {name for name, found in versions.items() if len(found) > 1}
    held("in more than one version", doubled, set(rules["duplicates"]["names"]), faults)
    held("a build script", scripts, set(rules["build_scripts"]["names"]), faults)
    held("unsafe code is not forbidden", unsafe, set(rules["unsafe"]["names"]), faults)
    own_licence(metadata, root, faults)
    if len(metadata["packages"]) < 100:
        faults.append(f"only {len(metadata['packages'])} packages were read")
    for name in sorted(doubled):
        print(f"in more than one version: {name} {', '.join(sorted(versions[name]))}")
    print(f"{len(metadata['packages'])} packages, {len(scripts)} build scripts")
    if faults:
        sys.exit("\n".join(faults))


# The rules of the expressions themselves.
assert allowed("MIT", {"MIT"}) and not allowed("GPL-3.0-only", {"MIT"})
assert allowed("MIT OR GPL-3.0-only", {"MIT"}) and allowed("Apache-2.0/MIT", {"MIT"})
assert not allowed("MIT AND Unicode-3.0", {"MIT"})
assert not allowed("(MIT OR Apache-2.0) AND Unicode-3.0", {"MIT"})
assert allowed("(MIT OR Apache-2.0) AND Unicode-3.0", {"MIT", "Unicode-3.0"})
assert allowed("GPL-3.0-only OR MIT AND Zlib", {"MIT", "Zlib"})
assert allowed("Apache-2.0 WITH LLVM-exception OR X", {"Apache-2.0"})

main()
