"""What a page of ours may run: its own script and style, and nothing else."""

from base64 import b64encode
from hashlib import sha256


def page_policy(script: str, style: str) -> str:
    """Content Security Policy Level 3: what may run, by its hash, and that nothing is fetched."""
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode('utf-8')).digest()).decode('ascii')}"
