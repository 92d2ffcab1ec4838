"""What every page of ours has round what it shows: its head, its style, its script, and a policy
that lets nothing else run."""

from base64 import b64encode
from hashlib import sha256
from html import escape
from importlib.resources import files
from string import Template


def page_document(
    title: str, body: str, *, language: str, style: str, script: str, to_the_edges: bool = False
) -> str:
    """A page of its own: a title (plain text), its body (HTML), in a language; with
    `to_the_edges` it reaches under the rounded corners of a phone."""
    return from_template(
        "document",
        language=language,
        policy=_policy(script, style),
        edges=", viewport-fit=cover" if to_the_edges else "",
        title=escape(title),
        style=style,
        body=body,
        script=script,
    )


def from_template(template: str, **texts: object) -> str:
    """One of our templates, by its name, with the texts (HTML) in their places."""
    text = files(__package__).joinpath(f"{template}.html").read_text(encoding="utf-8")
    return Template(text).substitute(texts)


def _policy(script: str, style: str) -> str:
    """Content Security Policy Level 3: what may run, by its hash, and that nothing is fetched."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode('utf-8')).digest()).decode('ascii')}"
