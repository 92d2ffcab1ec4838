"""Elements as text for the engraver: in half the time of `ElementTree`, which looks through all
of them for namespaces first."""

import re
from collections.abc import Callable
from xml.etree.ElementTree import Element

#: How `ElementTree` calls what XML names `xml:`, the one prefix that needs no declaration.
_XML = "{http://www.w3.org/XML/1998/namespace}"
_SPECIAL = re.compile('[&<>"\t\n\r]')
_WRITTEN = {sign: f"&#{ord(sign)};" for sign in '&<>"\t\n\r'}


def xml_text(element: Element) -> str:
    """An element of no namespace, with all that is in it, as XML.

    >>> root = Element("note", {"label": 'a "<"'})
    >>> root.text = "b & c"
    >>> xml_text(root)
    '<note label="a &#34;&#60;&#34;">b &#38; c</note>'
    """
    parts: list[str] = []
    _write(element, parts.append)
    return "".join(parts)


def _write(element: Element, put: Callable[[str], None]) -> None:
    tag, text = element.tag, element.text
    put(f"<{tag}")
    for name, value in element.items():
        put(f' {name.replace(_XML, "xml:")}="{_plain(value)}"')
    if text or len(element):
        put(">")
        if text:
            put(_plain(text))
        for child in element:
            _write(child, put)
        put(f"</{tag}>")
    else:
        put("/>")
    if element.tail:
        put(_plain(element.tail))


def _plain(text: str) -> str:
    return _SPECIAL.sub(lambda sign: _WRITTEN[sign[0]], text) if _SPECIAL.search(text) else text
