"""What an archival PDF says of itself (ISO 19005-3): the XMP packet, made from the same words as the file's own entries."""

from __future__ import annotations

from datetime import datetime
from xml.sax.saxutils import escape, quoteattr


def xmp_text(title: str, created: datetime, *, part: int, conformance: str) -> str:
    """The packet's content.  All dates are ``created``: the same report made again is the same file."""
    when = quoteattr(created.isoformat(timespec="seconds"))
    return "\n".join(
        [
            '<x:xmpmeta xmlns:x="adobe:ns:meta/">',
            '  <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"',
            '      xmlns:dc="http://purl.org/dc/elements/1.1/"',
            '      xmlns:xmp="http://ns.adobe.com/xap/1.0/"',
            '      xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">',
            f'    <rdf:Description rdf:about="" xmp:CreateDate={when} xmp:ModifyDate={when} xmp:MetadataDate={when}>',
            f"      <pdfaid:part>{part}</pdfaid:part>",
            f"      <pdfaid:conformance>{conformance}</pdfaid:conformance>",
            f'      <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{escape(title)}</rdf:li></rdf:Alt></dc:title>',
            "    </rdf:Description>",
            "  </rdf:RDF>",
            "</x:xmpmeta>",
        ]
    )
