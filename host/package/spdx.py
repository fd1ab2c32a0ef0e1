"""Write the list of contained software with licences, as SPDX 2.3 in JSON.

usage: spdx.py TARGET [PACKAGE], from the folder of the package's workspace; the list goes to the
standard output. SOURCE_DATE_EPOCH is its date, so the same commit gives the same bytes. It holds
what notices.py finds in the program, and what comes with its crates and its compiler besides.

Source of the format: SPDX specification 2.3 (ISO/IEC 5962:2021 is 2.2.1), clauses 6, 7 and 11.
"""

import hashlib
import json
import os
import re
import sys
import time
import tomllib

import notices

# What is in the program and is no crate, with its licence: the crates of SQLite and Zstandard carry
# these, the rest comes with the compilers.
STANDARD = ("rust-std", "MIT OR Apache-2.0")
SQLITE = ("sqlite", "blessing")
ZSTANDARD = ("zstandard", "BSD-3-Clause OR GPL-2.0-only")
WINDOWS = (
    ("mingw-w64-runtime", "ZPL-2.1"),
    ("libgcc", "GPL-3.0-or-later WITH GCC-exception-3.1"),
)


def one(identity, name, licence, version=None):
    """A package of the list, as clause 7 wants it."""
    package = {
        "SPDXID": identity, "name": name, "downloadLocation": "NOASSERTION",
        "filesAnalyzed": False, "licenseConcluded": "NOASSERTION", "licenseDeclared": licence,
        "copyrightText": "NOASSERTION",
    }
    return package | ({"versionInfo": version} if version else {})


def of_crate(crate, sums):
    """A crate as a package of the list, with its checksum in the lock file."""
    name, version = crate["name"], crate["version"]
    # Old crates write a stroke for OR.
    licence = (crate["license"] or "NOASSERTION").replace("/", " OR ")
    identity = "SPDXRef-" + re.sub(r"[^A-Za-z0-9.-]", "-", f"{name}-{version}")
    package = one(identity, name, licence, version)
    if (name, version) in sums:
        package["checksums"] = [{"algorithm": "SHA256", "checksumValue": sums[name, version]}]
    package["externalRefs"] = [{
        "referenceCategory": "PACKAGE-MANAGER", "referenceType": "purl",
        "referenceLocator": f"pkg:cargo/{name}@{version}",
    }]
    return package


def main(target, package="trundle"):
    own, terms, foreign = notices.contained(target, package)
    with open("Cargo.lock", "rb") as file:
        locked = tomllib.load(file)["package"]
    sums = {(p["name"], p["version"]): p["checksum"] for p in locked if "checksum" in p}
    top = one("SPDXRef-Program", package, terms, own["version"])
    parts = [of_crate(crate, sums) for crate in foreign]
    besides = [STANDARD]
    if any(crate["name"] == "libsqlite3-sys" for crate in foreign):
        besides.append(SQLITE)
    if any(crate["name"] == "zstd-sys" for crate in foreign):
        besides.append(ZSTANDARD)
    if "windows" in target:
        besides += WINDOWS
    parts += [one(f"SPDXRef-{name}", name, licence) for name, licence in besides]
    # The name of this very list, which no other may have.
    said = json.dumps([top, target, *parts], sort_keys=True).encode()
    made = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(int(os.environ["SOURCE_DATE_EPOCH"])))
    document = {
        "spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT",
        "name": f"{package}-{own['version']}-{target}",
        "documentNamespace": f"https://trundle.invalid/spdx/{hashlib.sha256(said).hexdigest()}",
        "creationInfo": {"created": made, "creators": [f"Tool: {package}-spdx.py"]},
        "packages": [top, *parts],
        "relationships": [
            {"spdxElementId": "SPDXRef-DOCUMENT", "relationshipType": "DESCRIBES",
             "relatedSpdxElement": top["SPDXID"]},
            *({"spdxElementId": top["SPDXID"], "relationshipType": "CONTAINS",
               "relatedSpdxElement": part["SPDXID"]} for part in parts),
        ],
    }
    print(json.dumps(document, indent=1))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
