"""The trade: gravity pipelines from an elevation raster and a drawn line, without any server.

Rooms, in the order the data passes them; each imports only what stands above it::

    errors, finding, units, compiled   what every room may use
    terrain     elevation rasters, read block by block, as metres
    line        the drawn line, its stations, the ground beneath it
    survey      levels taken on the ground, blended over the raster
    trench      the corridor a pipe may lie in, and the pipe as laid
    pipe        catalogue, walls, ratings, the pipes along the line
    flow        water, friction, static and flowing heads, surge, intake, power, energy
    strength    whether the pipe holds pressure, surge and vacuum
    anchors     thrust, blocks, spans, bends, uplift
    fittings    vents, drains, trapped air, placed and sized
    choice      which pipes to buy
    papers      map, drawings, report, tables, GIS, GPS and CAD files
    settings    what a study may be told, as SI values
    inputs      settings turned into the rooms' own values
    judge       what the results ask of pipe, ground and money
    study       the whole chain on one page
    record      the study as study.json
    outputs     the folder of files that a study leaves
"""

__version__ = "0.1.0"
