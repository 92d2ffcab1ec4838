"""Elements as text: what is read back is what was written."""

from xml.etree import ElementTree

from backing.render.sheet.xml_text import xml_text

_WRITTEN = (
    '<mei xml:id="m&lt;1"><measure n="1"><syl>a &amp; <rend>b</rend>]]&gt; c&#13;</syl>'
    '<label>\u00a0“é”\n</label><pb /></measure> <note label="\'&quot;&#9;&#10;" /></mei>'
)


def test_a_tree_is_read_as_it_was_written():
    """Attributes, texts, what follows an element, and xml:id come back, signs and line ends too."""
    root = ElementTree.fromstring(_WRITTEN)
    again = ElementTree.fromstring(xml_text(root))
    assert ElementTree.tostring(again) == ElementTree.tostring(root)
    assert xml_text(again) == xml_text(root)
