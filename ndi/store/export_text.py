"""What an export says of itself: the name and version of its format, and the text that explains it to a stranger."""

from __future__ import annotations

from ndi.services.ports import Head

FORMAT = "inspection record book export"
FORMAT_VERSION = 1

ENTRY_TEXT = """\
ENTRIES (entries.jsonl)

UTF-8 text, one entry a line, each line one JSON object, lines end in a line feed.
The keys of an entry:

  position       1, 2, 3 ... the place in the one chain of the book
  uid            name of the entry, never used twice
  station        code of the station that wrote and signed it
  station_seq    1, 2, 3 ... counted by that station
  kind           what sort of fact it is; kind_version: version of its body
  event_time     when it happened, UTC; offset_min: local time minus UTC, minutes
  precision      how exactly the time is known: s (second), min (minute)
  how            timer, scanner, instrument, typed-live, typed-late,
                 transcribed from paper, computed
  recorded_time  when it was saved, UTC
  boot_ms        a clock that nobody can set, milliseconds; boot_id: its name
  by             who entered it; on_behalf_of: for whom
  supersedes     uid of the entry that it corrects or withdraws; why: the reason
  body           the fact itself; numbers are kept as typed, as text, with unit
  prev_hash      hash of the entry before it; 64 zeros for entry 1
  hash           SHA-256 of the entry, hexadecimal
  signature      Ed25519 signature of the station, hexadecimal

A key that does not apply is left out.

HOW TO CHECK AN ENTRY

1. Take the object without "hash" and "signature".
2. Write it as JSON in the one canonical form: UTF-8, text in Unicode form NFC,
   keys sorted by code point at every level, no spaces, no keys with null, no
   floating point numbers; in text only the characters below U+0020, the quote
   and the backslash are escaped (\\b \\f \\n \\r \\t in their short form, the rest
   as \\u00xx, small letters). Each line of the file is in that form already.
3. SHA-256 of these bytes has to be "hash".
4. "signature" has to be the Ed25519 signature over the 32 bytes of the hash,
   made with the key of "station". The public keys (32 bytes, hexadecimal) stand
   in the entries of kind StationKeyEntered; entry 2 brings the key that signed
   entry 1 and itself. A later key counts from its entry on.
"""

CHAIN_TEXT = """\
HOW TO CHECK THE CHAIN

5. Positions run 1, 2, 3 ... without a gap, and each "prev_hash" is the "hash"
   of the entry before it.
6. The last entry has to be the head named in manifest.json.

What this proves: since an entry was signed, nobody without the key of a station
changed, removed, moved or inserted anything before the head. What it does not
prove: that nobody who holds a station's key forged, and that no entries were cut
off at the end. Against a cut, compare with a head printed on a tag, a record or
a shift sheet: position, colon, the first 16 characters of the hash.
"""

_PRACTICE = """
PRACTICE: from a practice book. Nothing here counts for a real part.
"""


def book_readme(head: Head, *, practice: bool) -> str:
    """The text that goes along with a whole book."""
    return f"""\
A RECORD BOOK OF MAGNETIC-PARTICLE AND PENETRANT INSPECTION, WHOLE
{_PRACTICE if practice else ""}
Exported up to entry {head}. Format: {FORMAT}, version {FORMAT_VERSION}.
This is a copy of records. It is no release to service of anything.

FILES

  manifest.json       counts, head, public keys, and SHA-256 of the files here
  entries.jsonl       every entry of the book, one a line, in order
  calls.jsonl         keys under which a program made a call once, and which
                      entries it wrote; needed only to go on with the book
  photographs.sha256  SHA-256 and path of each photograph, as sha256sum reads it:
                      sha256sum -c photographs.sha256
  photographs/xx/...  the photographs as they came from the camera, byte for byte,
                      each named by its SHA-256

A photograph that the book names and that was lost before the export stands under
"missing_photographs" in manifest.json.

{ENTRY_TEXT}
{CHAIN_TEXT}
WHAT IS NOT HERE

The private keys of the stations and the secret file of the book: they travel
apart from it. Without a station's key nothing can be added to the book; without
the secret file nobody can sign in it. Read tables are not here either: they
follow from the entries.

KEEP IT LIKE THE BOOK

Entries hold names, certificates and, under kind SecretSet, what is kept of PINs
and passwords (Argon2id over a value keyed with the secret file). Give a whole
export to nobody who may not have the whole book; for the owner of an engine there
is the export of one work order.
"""


def order_readme(work_order: str, head: Head, others: str, *, practice: bool) -> str:
    """The text that goes along with the pack of one work order."""
    return f"""\
INSPECTION RECORDS OF WORK ORDER {work_order}
{_PRACTICE if practice else ""}
What was recorded at magnetic-particle and penetrant inspection of the parts of
this work order, as the record book stood at entry {head}.
Format: {FORMAT}, version {FORMAT_VERSION}.

This is a copy of records. It is no release to service, and it says nothing of
inspections by other methods, of parts that are in no record here, or of what
happened after entry {head.position}.

FILES

  records.csv         the records as a table: part, method, how each stands
  records/*.pdf       each inspection record on paper, with every answer of every
                      rule that was asked, and who signed what
  photographs/xx/...  the photographs as they came from the camera, each named by
                      its SHA-256; photographs.sha256 lists them for sha256sum -c
  entries.jsonl       the entries of the book that concern these parts, and those
                      that the signed answers rest on: readings of lamps, baths and
                      meters, checks, certificates, procedures; as they were signed
  extracts.jsonl      such entries that also name other owners' things, with these
                      names taken out
  manifest.json       counts, the head of the book, public keys, and SHA-256 of the
                      files here

WHAT IS LEFT OUT

Everything of other owners: their work orders, engines, pieces, records and
photographs. In extracts.jsonl and in the papers
    {others}
stands where such a name stood, names in lists are left out of the list, and
"left_out" says where. Also left out: secrets, sign-ins, and whatever else of
the shop no record here rests on. So the entries here are no whole chain:
"prev_hash" often names an entry that is not here.

A name of fewer than 3 characters and a serial number of fewer than 5 digits
cannot be told from other words and readings: in free text they stay.

{ENTRY_TEXT}
EXTRACTS (extracts.jsonl)

"entry" is the entry without what was left out, "entry_hash" the hash of the
whole one in the book. Of an entry about another owner's part alone (a look at
it, which shows that nobody looked at two parts at a time) only position and kind
are given: "left_out" is then "everything". An extract cannot be checked by
itself; whoever holds the book can find the entry by its position and compare the
hash.

HOW TO CHECK MORE

The head in manifest.json, position and first 16 characters of the hash, is of the
same kind as the heads printed on tags and records. The shop can show that an entry
given here stands in its book, and that a printed head is still in its chain.
"""
