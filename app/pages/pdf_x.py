"""What makes a PDF one for the press: output intent, dates, ids and the names of the standard.

PDF/X-4: ISO 15930-7:2010; PDF/X-1a:2003: ISO 15930-4:2003 (their rules from memory). No time of
day is written, so that one page gives one file: the date is fixed and the ids follow the content.
"""

import hashlib
import html
import uuid
from dataclasses import dataclass
from io import BytesIO
from typing import Literal

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from app.pages.names import in_letters
from app.pages.pdf_press import PLAIN_NAME, plain_press
from app.pages.profiles import printing_profile
from app.pages.refusing import refuse
from app.pages.renditions import Pdf
from app.pages.small import read_small

Standard = Literal["x4", "x1a"]

_DATE, _XMP_DATE = "D:20240101000000Z", "2024-01-01T00:00:00Z"
_LARGEST_PROFILE = 64 << 20
_XMP = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF \
xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" \
xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" \
xmlns:xmpMM="http://ns.adobe.com/xap/1.0/mm/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/" \
xmlns:pdfxid="http://www.npes.org/pdfx/ns/id/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<xmp:CreateDate>{date}</xmp:CreateDate><xmp:ModifyDate>{date}</xmp:ModifyDate>
<xmp:MetadataDate>{date}</xmp:MetadataDate><xmp:CreatorTool>Stetline</xmp:CreatorTool>
<xmpMM:DocumentID>uuid:{id}</xmpMM:DocumentID><xmpMM:VersionID>1</xmpMM:VersionID>
<xmpMM:RenditionClass>default</xmpMM:RenditionClass>
<pdf:Trapped>False</pdf:Trapped><pdf:Producer>Stetline</pdf:Producer>
<pdfxid:GTS_PDFXVersion>{standard}</pdfxid:GTS_PDFXVersion>
</rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>"""


@dataclass(frozen=True)
class Intent:
    """The press that a file is made for: its profile, grey or CMYK, and its name."""

    profile: bytes
    channels: Literal[1, 4]
    name: str

    @property
    def colours(self) -> Name:
        """The device colours in which inks are shown elsewhere."""
        return Name.DeviceGray if self.channels == 1 else Name.DeviceCMYK


def intent_of(pdf: Pdf, *, coloured: bool = False) -> Intent:
    """The printer's own profile, or one of black ink made from the press's gain.

    For a ``coloured`` page the plain four inks stand in its place. Raises ``Refused`` where the
    file is no output profile for grey or CMYK, or one of grey for a coloured page.
    """
    if pdf.profile is None:
        if coloured:
            return Intent(plain_press(), 4, PLAIN_NAME)
        return Intent(printing_profile(pdf.gain), 1,
                      f"Black ink on white paper, tonal value increase {pdf.gain:g} % at 50 %")
    # whoever asked for it says where: an option, a job
    data = read_small(pdf.profile, _LARGEST_PROFILE, f"the profile {pdf.profile.name}", where="")
    kind, space = data[12:16], data[16:20]
    if data[36:40] != b"acsp" or kind != b"prtr" or space not in (b"GRAY", b"CMYK"):
        raise refuse(f"{pdf.profile.name} is no profile of a press in grey or CMYK",
                     "ask the printer for theirs, or leave it out")
    if len(data) > _LARGEST_PROFILE or len(data) < int.from_bytes(data[:4], "big"):
        raise refuse(f"{pdf.profile.name} is not whole, or larger than any profile",
                     "copy it again, or leave it out")
    if coloured and space == b"GRAY":
        raise refuse(f"the page has colour, and {pdf.profile.name} is a press of black alone",
                     "ask the printer for their CMYK profile, or leave it out")
    return Intent(data, 1 if space == b"GRAY" else 4, pdf.profile.stem)


def begin_document(standard: Standard, intent: Intent, title: str) -> pikepdf.Pdf:
    """An empty document with everything but pages.

    >>> from app.pages.renditions import Pdf
    >>> document = begin_document("x4", intent_of(Pdf()), "a page")
    >>> str(document.Root.OutputIntents[0].S)
    '/GTS_PDFX'
    """
    document, named = pikepdf.new(), String(in_letters(intent.name))
    profile = document.make_stream(intent.profile)
    profile.N = intent.channels
    document.Root.OutputIntents = Array([document.make_indirect(Dictionary(
        Type=Name.OutputIntent, S=Name.GTS_PDFX, OutputConditionIdentifier=String("Custom"),
        OutputCondition=named, Info=named, DestOutputProfile=profile,
    ))])
    info = Dictionary(
        Title=String(in_letters(title)), Creator=String("Stetline"), Producer=String("Stetline"),
        CreationDate=String(_DATE), ModDate=String(_DATE), Trapped=Name("/False"),
    )
    if standard == "x1a":
        info.GTS_PDFXVersion = String("PDF/X-1a:2003")
    document.trailer.Info = document.make_indirect(info)
    return document


def _metadata(document: pikepdf.Pdf) -> pikepdf.Object:
    """The facts that PDF/X-4 wants as XMP (ISO 16684-1), with an id of the content."""
    digest = hashlib.blake2b(digest_size=16)
    for item in document.objects:
        if isinstance(item, pikepdf.Stream):
            digest.update(item.read_raw_bytes())
    title = html.escape(str(document.trailer.Info.Title), quote=False)
    text = _XMP.format(title=title, date=_XMP_DATE, id=uuid.UUID(bytes=digest.digest()),
                       standard="PDF/X-4")
    return document.make_stream(text.encode("utf-8"), Type=Name.Metadata, Subtype=Name.XML)


def document_bytes(document: pikepdf.Pdf, standard: Standard) -> bytes:
    """The document as a file's content.

    It is made in memory: a disk that is full beneath the library's own writing ends the whole
    process.
    """
    modern = standard == "x4"
    if modern:
        document.Root.Metadata = _metadata(document)
    made = BytesIO()
    document.save(
        made, deterministic_id=True, force_version="1.6" if modern else "1.4",
        object_stream_mode=pikepdf.ObjectStreamMode.disable, compress_streams=True,
    )
    return made.getvalue()
