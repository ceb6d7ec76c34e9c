"""How `make docs` turns this folder into a site. Nothing in it is loaded from elsewhere.

Three lists are not written by hand, so that they cannot lag: the worksheets of the first page come
from their table of contents, the functions of a stage from its modules, and pages that no list
names stand under "More".
"""

import re
from pathlib import Path

from pygments.lexers.special import TextLexer
from sphinx.application import Sphinx

import kitwright
from kitwright import __version__
from kitwright.pictures.palette import DAY, NIGHT, Palette
from kitwright.worksheets.contents import CONTENTS, STAGES

project = "Kitwright"
version = release = __version__
html_title = "Kitwright"
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
source_suffix = {".md": "markdown"}
root_doc = "index"
exclude_patterns = ["_static"]
myst_heading_anchors = 3
smartquotes = False
add_module_names = False
suppress_warnings = ["ref.python"]  # "(n, 3)" before an attribute's words is a shape, no link
toc_object_entries = False
default_role = "code"
autodoc_member_order = "bysource"
autodoc_typehints = "signature"
autodoc_typehints_format = "short"
autodoc_default_options = {"members": True, "undoc-members": False}
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_param = False  # a type is said in words, and is no link
napoleon_use_admonition_for_references = False
python_use_unqualified_type_names = True

# ── the look ─────────────────────────────────────────────────────────────────────────────

DOCS = Path(__file__).parent
PACKAGE = Path(kitwright.__file__).parent
FONTS = PACKAGE / "fonts"

html_theme = "furo"
html_static_path = [
    "_static",
    *(str(FONTS / f"SourceSans3-{cut}.ttf.woff2") for cut in ("Regular", "Semibold")),
]
html_css_files = ["kitwright.css"]
html_favicon = str(PACKAGE / "web" / "static" / "icon.svg")
html_show_sphinx = False
html_show_copyright = False
html_copy_source = False
html_show_sourcelink = False
html_use_index = False
html_domain_indices = False
html_show_search_summary = False  # it would fetch pages, which a browser refuses from a folder
html_search_language = "en"
highlight_language = "text"
pygments_style = "bw"
pygments_dark_style = "bw"


def inks(palette: Palette) -> dict[str, str]:
    """A palette as the theme's variables take it."""
    return {
        "font-stack": "'Source Sans 3', Helvetica, Arial, sans-serif",
        "font-stack--headings": "'Source Sans 3', Helvetica, Arial, sans-serif",
        "font-stack--monospace": "ui-monospace, monospace",
        "color-foreground-primary": palette.ink,
        "color-foreground-secondary": palette.soft,
        "color-foreground-muted": palette.soft,
        "color-foreground-border": palette.line,
        "color-background-primary": palette.ground,
        "color-background-secondary": palette.ground,
        "color-background-hover": palette.wash,
        "color-background-hover--transparent": f"{palette.wash}00",
        "color-background-border": palette.rule,
        "color-background-item": palette.wash,
        "color-brand-primary": palette.brass_text,
        "color-brand-content": palette.ink,
        "color-brand-visited": palette.ink,
        "color-link-underline": palette.line,
        "color-link-underline--hover": palette.ink,
        "color-link-underline--visited": palette.line,
        "color-link-underline--visited--hover": palette.ink,
        "color-highlighted-background": palette.wash,
        "color-highlighted-text": palette.ink,
        "color-highlight-on-target": palette.wash,
        "color-inline-code-background": palette.wash,
        "color-sidebar-brand-text": palette.ink,
        "color-sidebar-caption-text": palette.soft,
        "color-sidebar-link-text": palette.ink,
        "color-sidebar-link-text--top-level": palette.ink,
        "color-sidebar-item-background--current": palette.wash,
        "color-sidebar-item-background--hover": palette.wash,
        "color-sidebar-item-expander-background--hover": palette.rule,
        "color-sidebar-search-background": palette.ground,
        "color-sidebar-search-background--focus": palette.wash,
        "color-toc-item-text": palette.soft,
        "color-toc-item-text--hover": palette.ink,
        "color-toc-item-text--active": palette.brass_text,
        "color-toc-title-text": palette.soft,
        "color-table-border": palette.rule,
        "color-table-header-background": palette.ground,
        "color-api-background": palette.wash,
        "color-api-background-hover": palette.wash,
        "color-api-name": palette.ink,
        "color-api-pre-name": palette.soft,
        "color-api-overall": palette.soft,
        "color-api-keyword": palette.soft,
        "color-api-paren": palette.soft,
    }


html_theme_options = {
    "light_css_variables": inks(DAY),
    "dark_css_variables": inks(NIGHT),
    "top_of_page_buttons": [],
}

# ── lists that are not written by hand ───────────────────────────────────────────────────

REMAINING = "% every page that no list names"
WORKSHEETS = "% the worksheets, by stage of the job"
MODULES = re.compile(r"^% the modules of (\w+)$", re.MULTILINE)


def worksheet_lists() -> str:
    """A table of contents for each stage that has worksheets."""
    parts = []
    for stage in STAGES:
        names = [entry.name for entry in CONTENTS if entry.stage == stage]
        names = [name for name in names if (DOCS / f"{name}.md").exists()]
        if names:
            options = f":maxdepth: 1\n:caption: {stage.capitalize()}"
            parts.append("\n".join(["```{toctree}", options, "", *names, "```", ""]))
    return "\n".join(parts)


def module_list(stage: str) -> str:
    """The functions and answers of a stage that the rest of the house calls, by module."""
    called = re.compile(
        rf"^from kitwright\.calc\.{stage}\.(\w+) import|"
        rf"^from kitwright\.calc\.{stage} import (.+)$",
        re.MULTILINE,
    )
    names = set()
    for path in sorted(PACKAGE.rglob("*.py")):
        if PACKAGE / "calc" not in path.parents:
            for one, several in called.findall(path.read_text("utf-8")):
                names |= {one} if one else set(re.findall(r"\w+", several))
    parts = []
    for name in sorted(names):
        directive = f".. automodule:: kitwright.calc.{stage}.{name}\n   :members:\n"
        parts.append(f"## {name}\n\n```{{eval-rst}}\n{directive}```\n")
    return "\n".join(parts)


def remaining_list(index: str) -> str:
    """Pages that no list of the first page names, so that none is ever left out."""
    named = {entry.name for entry in CONTENTS} | {"index"}
    for body in re.findall(r"^```\{toctree\}\n(.*?)^```", index, re.MULTILINE | re.DOTALL):
        named |= {line.strip() for line in body.splitlines()}
    rest = sorted(page.stem for page in DOCS.glob("*.md") if page.stem not in named)
    if not rest:
        return ""
    return "\n".join(["```{toctree}", ":maxdepth: 1", ":caption: More", "", *rest, "```", ""])


def fill_in(app: Sphinx, docname: str, source: list[str]) -> None:
    """Put the lists in where a page asks for them."""
    text = source[0]
    if docname == root_doc:
        text = text.replace(REMAINING, remaining_list(text)).replace(WORKSHEETS, worksheet_lists())
    source[0] = MODULES.sub(lambda found: module_list(found[1]), text)


def plain_words(
    app: Sphinx, what: str, name: str, thing: object, options: object, lines: list[str]
) -> None:
    """Docstrings are written to be read: sources keep their numbers, a bar or a star is one."""
    for at, line in enumerate(lines):
        if line.lstrip().startswith((">>>", "...")):
            continue
        listed = re.sub(r"^(\s*)\.\. \[(\d+)\] ", r"\1*  [\2] ", line)
        parts = re.sub(r"\[(\d+)\]_", r"[\1]", listed).split("`")
        parts[::2] = [
            re.sub(r"(?<=\S )\*|(?<=\S)\*|\||(?<=\w)_(?!\w)", r"\\\g<0>", part)
            for part in parts[::2]
        ]
        lines[at] = "`".join(parts)


# What the theme leaves unsaid for whoever does not see the page, or has no mouse.
SAID_ALOUD = {
    '<aside class="sidebar-drawer">': '<aside class="sidebar-drawer" aria-label="All pages">',
    '<aside class="toc-drawer': '<aside aria-label="On this page" class="toc-drawer',
    'class="caption" role="heading">': 'class="caption" role="heading" aria-level="2">',
    '<div class="highlight"><pre>': '<div class="highlight"><pre tabindex="0">',
    '</noscript>\n\n<div id="search-results">': (
        '</noscript>\n<h1>Search</h1>\n<div id="search-results">'
    ),
}


def say_aloud(app: Sphinx, error: Exception | None) -> None:
    """Write it into the pages once they are made."""
    if error is not None:
        return
    for path in Path(app.outdir).rglob("*.html"):
        text = path.read_text("utf-8")
        for found, said in SAID_ALOUD.items():
            text = text.replace(found, said)
        path.write_text(text, "utf-8")


def setup(app: Sphinx) -> None:
    """Called by Sphinx."""
    app.connect("source-read", fill_in)
    app.connect("autodoc-process-docstring", plain_words, priority=100)
    app.connect("build-finished", say_aloud)
    app.add_lexer("csv", TextLexer)
