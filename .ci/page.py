"""Fail when a page would fetch anything: it must be the same with no network, in ten years."""

import html.parser
import pathlib
import re
import sys

# What fetches, or could, by HTML's and SVG's own rules; a namespace is a name and fetches nothing.
FETCHING = {"src", "srcset", "href", "xlink:href", "data", "poster", "action", "formaction",
            "background", "manifest", "ping", "cite"}
FORBIDDEN = {"script", "iframe", "object", "embed", "base"}


class Page(html.parser.HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags = 0
        self.faults = []
        self.in_style = False

    def handle_starttag(self, tag, attrs):
        self.tags += 1
        self.in_style = tag == "style"
        if tag in FORBIDDEN:
            self.faults.append(f"<{tag}>")
        for name, value in attrs:
            value = (value or "").strip()
            if name in FETCHING and not value.startswith(("#", "data:")):
                self.faults.append(f'<{tag} {name}="{value}">')
            if name.startswith("on"):
                self.faults.append(f"<{tag} {name}>")
            if not name.startswith("xmlns"):
                self.style(value)
            if tag == "meta" and (name, value.lower()) == ("http-equiv", "refresh"):
                self.faults.append("<meta refresh>")

    def handle_endtag(self, tag):
        self.in_style = False

    def handle_data(self, data):
        if self.in_style:
            self.style(data)

    def style(self, text):
        self.faults += re.findall(r"@import[^;]*", text, re.IGNORECASE)
        for place in re.findall(r"url\(\s*['\"]?([^)'\"]*)", text, re.IGNORECASE):
            if not place.startswith(("#", "data:")):
                self.faults.append(f"url({place})")


def main(path):
    page = Page()
    page.feed(pathlib.Path(path).read_text(encoding="utf-8"))
    page.close()
    if page.tags < 10:
        page.faults.append("hardly a page")
    for fault in page.faults:
        print(f"external reference: {fault}", file=sys.stderr)
    print(f"{page.tags} tags, {len(page.faults)} external references")
    return 1 if page.faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
