"""The docs as pages that come with the add-on: HTML and pictures that any browser opens from the disk, without the net.

Needs markdown-it-py, of requirements/pages.txt, at build time alone; build_extension.py brings it.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from html import escape
from itertools import pairwise
from pathlib import Path
from typing import Any

LEFT_OUT = ("decisions",)
"""Folders of the docs that are for contributors."""

STYLE = "pages.css"
CSS = """:root { color-scheme: light dark;
  --ink: #1f2328; --paper: #fff; --line: #d5d9de; --link: #0b5cad; --soft: #f4f5f7 }
@media (prefers-color-scheme: dark) {
  :root { --ink: #dfe2e6; --paper: #1d1f22; --line: #3c4046; --link: #7db8f5; --soft: #282b2f }
}
body { margin: 0 auto; padding: 1rem 1.5rem 4rem; max-width: 52rem; color: var(--ink); background: var(--paper);
  font: 16px/1.55 system-ui, sans-serif }
nav { padding-bottom: .6rem; border-bottom: 1px solid var(--line); font-size: .9rem }
a { color: var(--link) }
h1 { line-height: 1.2 } h2 { margin-top: 2.2rem; line-height: 1.25 }
img { max-width: 100%; height: auto; border: 1px solid var(--line); border-radius: 4px }
table { border-collapse: collapse; display: block; overflow-x: auto }
th, td { border: 1px solid var(--line); padding: .3rem .6rem; text-align: left; vertical-align: top }
th { background: var(--soft) }
code { font: .9em ui-monospace, monospace; background: var(--soft); border-radius: 3px; padding: .1em .25em }
pre { background: var(--soft); padding: .8rem; overflow-x: auto } pre code { padding: 0 }
blockquote { margin: 1rem 0; padding: .1rem 1rem; border-left: 4px solid var(--line); background: var(--soft) }
"""

NAVIGATION = (("index.md", "Start here"), ("tutorial.md", "Tutorial"), ("panels/index.md", "Panels"))


def write_pages(docs: Path, out: Path) -> list[Path]:
    """Write every page of the docs, and the pictures that they show; returns the pages written."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark").enable("table")
    written, pictures = [], set()
    for source in list_sources(docs):
        tokens = reader.parse(source.read_text("utf-8"))
        title = name_headings(tokens) or source.stem
        for token in walk(tokens):
            if token.type == "image":
                pictures.add((source.parent / token.attrs["src"]).resolve().relative_to(docs.resolve()))
        turn_links(tokens, source, docs)
        page = out / source.relative_to(docs).with_suffix(".html")
        page.parent.mkdir(parents=True, exist_ok=True)
        body = reader.renderer.render(tokens, reader.options, {})
        page.write_text(wrap_page(title, body, page.parent, out, docs), "utf-8", newline="\n")
        written.append(page)
    (out / STYLE).write_text(CSS, "utf-8", newline="\n")
    for picture in sorted(pictures):
        (out / picture).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(docs / picture, out / picture)
    return written


def list_sources(docs: Path) -> list[Path]:
    """The pages of the docs in a fixed order."""
    found = (path for path in docs.rglob("*.md") if path.relative_to(docs).parts[0] not in LEFT_OUT)
    return sorted(found)


def walk(tokens: list[Any]) -> Iterator[Any]:
    """Every token, those inside a line as well."""
    for token in tokens:
        yield token
        yield from walk(token.children or [])


def name_headings(tokens: list[Any]) -> str:
    """Give every heading the name that links to it use, as code hosts make it; returns the first heading."""
    first, used = "", dict[str, int]()
    for opening, line in pairwise(tokens):
        if opening.type != "heading_open":
            continue
        text = "".join(token.content for token in line.children if token.type in ("text", "code_inline"))
        name = re.sub(r"[^\w\- ]", "", text.lower()).replace(" ", "-")
        again = used[name] = used.get(name, -1) + 1
        opening.attrSet("id", f"{name}-{again}" if again else name)
        first = first or text
    return first


def turn_links(tokens: list[Any], source: Path, docs: Path) -> None:
    """Links to other pages of the docs lead to their HTML; those to other files of the repository become plain text."""
    for token in tokens:
        inside = token.children or []
        kept = []
        for own in inside:
            if own.type == "link_open":
                target = find_target(str(own.attrs["href"]), source, docs)
                kept.append(target != "")
                own.attrSet("href", target)
                own.hidden = target == ""
            elif own.type == "link_close":
                own.hidden = not kept.pop()
        token.children = [own for own in inside if not own.hidden] if inside else token.children


def find_target(href: str, source: Path, docs: Path) -> str:
    """Where a link leads from the page of a source; empty: to nothing that comes with the add-on."""
    path, _, heading = href.partition("#")
    if re.match(r"[a-z]+:", href) or not path:
        return href
    inside = (source.parent / path).resolve()
    if not inside.is_relative_to(docs.resolve()) or inside not in {own.resolve() for own in list_sources(docs)}:
        return ""
    return str(Path(path).with_suffix(".html").as_posix()) + (f"#{heading}" if heading else "")


def wrap_page(title: str, body: str, folder: Path, out: Path, docs: Path) -> str:
    """A whole page; the same links stand at the head of each."""
    up = os.path.relpath(out, folder).replace(os.sep, "/")
    links = [
        f'<a href="{up}/{name.removesuffix(".md")}.html">{text}</a>'
        for name, text in NAVIGATION
        if (docs / name).is_file()
    ]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width">\n'
        f'<title>{escape(title)} – Counterpoise</title>\n<link rel="stylesheet" href="{up}/{STYLE}">\n</head>\n'
        f"<body>\n<nav>{' · '.join(links)}</nav>\n<main>\n{body}</main>\n</body>\n</html>\n"
    )
