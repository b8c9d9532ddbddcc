#!/usr/bin/python3
"""Makes the zip files beside it, with Python's zipfile (3.11), and sums.txt: the
SHA-256 of every member that can be read, by hashlib. Contents are made up."""
import hashlib, io, os, struct, zipfile

here = os.path.dirname(os.path.abspath(__file__))
STORED, DEFLATED, BZIP2 = zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2
A = "nm,8 deg %R\n" + "".join(f"{x},{4 + x % 7 / 10:.1f}\n" for x in range(400, 1000, 20))
B = "nm,60 deg %R\n" + "".join(f"{x},{9 + x % 11 / 10:.1f}\n" for x in range(400, 1000, 20))
DATE = (2026, 1, 2, 3, 4, 6)
sums = []


def info(name, method):
    i = zipfile.ZipInfo("placeholder", DATE)
    i.filename = name  # as it is: ZipInfo would tidy it
    i.compress_type = method
    i.external_attr = 0o100644 << 16
    return i


def pack(members, method=DEFLATED, to=None, zip64=False):
    to = to or io.BytesIO()
    with zipfile.ZipFile(to, "w", method) as z:
        for name, text in members:
            with z.open(info(name, method), "w", force_zip64=zip64) as f:
                f.write(text.encode())
    return to.getvalue()


class Stream(io.RawIOBase):
    """A pipe: zipfile then writes sizes behind the members."""

    def __init__(self):
        self.data = bytearray()

    def writable(self):
        return True

    def write(self, b):
        self.data += bytes(b)
        return len(b)

    def getvalue(self):
        return bytes(self.data)


def keep(name, data, *read):
    with open(os.path.join(here, name), "wb") as f:
        f.write(data)
    for member, text in read:
        sums.append(f"{hashlib.sha256(text.encode()).hexdigest()}  {name}/{member}\n")


two = [("inner/b.csv", B), ("a.csv", A)]
keep("deflated.zip", pack(two), *two)
keep("stored.zip", pack(two, STORED), *two)
keep("stream.zip", pack(two, to=Stream()), *two)
keep("zip64.zip", pack(two, zip64=True), *two)
keep("behind.zip", b"#!/bin/sh\n" * 9 + pack(two), *two)
keep("empty-member.zip", pack([("a.csv", "")]), ("a.csv", ""))
keep("hidden.zip", pack(two + [(".a.csv", A), ("__MACOSX/._a.csv", "x"), (".git/a.csv", A)]), *two)
# code page 437 without the flag of UTF-8, and UTF-8 without it
keep("code-page.zip", pack([("Pr_fling.csv", A)]).replace(b"Pr_fling", b"Pr\x81fling"), ("Prüfling.csv", A))
keep("no-flag.zip", pack([("Pr__fling.csv", A)]).replace(b"Pr__fling", "Prüfling".encode()), ("Prüfling.csv", A))
link = info("link.csv", STORED)
link.external_attr = 0o120777 << 16
out = io.BytesIO()
with zipfile.ZipFile(out, "w") as z:
    z.writestr(link, "/etc/hostname")
    z.writestr(info("a.csv", DEFLATED), A)
keep("link.zip", out.getvalue(), ("a.csv", A))

keep("parent.zip", pack([("inner/../../a.csv", A)]))
keep("parent-folder.zip", pack([("a.csv", A), ("../", "")]))
keep("absolute.zip", pack([("/a.csv", A)]))
keep("drive.zip", pack([("C:a.csv", A)]))
keep("backslash.zip", pack([("inner_b.csv", A)]).replace(b"inner_b", b"inner\\b"))
keep("control.zip", pack([("a_b.csv", A)]).replace(b"a_b", b"a\nb"))
keep("twice.zip", pack([("a.csv", A), ("b.csv", B)]).replace(b"b.csv", b"a.csv"))
keep("file-and-folder.zip", pack([("a", A), ("a/b.csv", B)]))
keep("case.zip", pack([("Roof/a.csv", A), ("roof/A.CSV", B)]))
keep("case-folder.zip", pack([("Roof", A), ("roof/a.csv", B)]))
keep("sharp-s.zip", pack([("Straße.csv", A), ("STRASSE.csv", B)]))
keep("composed.zip", pack([("Pr\u00fcfling.csv", A), ("Pru\u0308fling.csv", B)]))
out = io.BytesIO()
with zipfile.ZipFile(out, "w") as z:
    z.writestr(info("roof/Pull 1.ZIP", STORED), pack(two))
    z.writestr(info("a.csv", DEFLATED), A)
keep("inner.zip", out.getvalue())
keep("bzip2.zip", pack(two, BZIP2))
keep("ratio.zip", pack([("a.csv", "0" * (2 << 20))]))
keep("no.zip", b"no zip file\n")
keep("nothing.zip", b"")
whole = pack(two)
keep("cut.zip", whole[:-30])


def patch(data, at, value):
    return data[:at] + value + data[at + len(value):]


first = whole.index(b"PK\x01\x02")  # the directory; fields by APPNOTE.TXT 4.3.12
flags, = struct.unpack_from("<H", whole, first + 8)
size, = struct.unpack_from("<I", whole, first + 24)
keep("encrypted.zip", patch(patch(whole, first + 8, struct.pack("<H", flags | 1)), 6, struct.pack("<H", flags | 1)))
keep("longer.zip", patch(whole, first + 24, struct.pack("<I", size - 1)))
keep("shorter.zip", patch(whole, first + 24, struct.pack("<I", size + 1)))
keep("checksum.zip", patch(pack(two, STORED), 60, b"#"))
keep("huge.zip", patch(whole, first + 24, struct.pack("<I", 101 << 20)))
keep("packed-huge.zip", patch(whole, first + 20, struct.pack("<I", 1 << 30)))
with open(os.path.join(here, "sums.txt"), "w") as f:
    f.writelines(sorted(sums))
