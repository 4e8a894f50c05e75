"""The trade: gravity pipelines from an elevation raster and a drawn line, without any server.

Rooms, in the order the data passes them; each imports only what stands above it::

    errors, finding, units, compiled   what every room may use
    terrain     elevation rasters, read block by block, as metres
    line        the drawn line, its stations, the ground beneath it
    survey      levels taken on the ground, which override the raster near the line
    trench      the corridor a pipe may lie in, and the pipe as laid
    pipe        catalogue, walls, ratings, the pipes along the line
    flow        water, friction, static and flowing heads, power
    strength    class, collapse by vacuum: whether the pipe holds at every station
    anchors     thrust, blocks, supports, flotation, joints and curves
    fittings    vents, drains, trapped air
    choice      the pipe that costs least: sweep, classes, several diameters
    papers      map, profile drawing, tables, GIS and GPS files
    settings    what a study may be told, as SI values
    inputs      settings turned into the rooms' own values
    study       the whole chain on one page
    record      the study as study.json
    outputs     the folder of files that a study leaves
"""

__version__ = "0.1.0"
