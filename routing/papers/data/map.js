// Fills a layer with signs: one icon, many places, each with its popup.
function leatlineSigns(layer, data) {
  "use strict";
  const { kind, side, size, items } = data;
  layer.leatlineSide = side;
  for (const { lat, lon, title, svg, popup } of items) {
    const icon = L.divIcon({
      className: `sign-${kind}`, html: svg, iconSize: [size, size],
      iconAnchor: [size / 2, size / 2], popupAnchor: [0, -size / 2],
    });
    L.marker([lat, lon], {
      icon, title, alt: title, riseOnHover: true, zIndexOffset: side ? 500 : 0,
    }).bindPopup(popup, { maxWidth: 320, minWidth: 276, autoPanPadding: [12, 12] }).addTo(layer);
  }
}

// What the page draws beside the layers that folium wrote: scale, north, station marks, the
// readout along the line, and signs led off the line so that none hides another.
function leatlineMap(map, data, layers) {
  "use strict";
  const SVG = "http://www.w3.org/2000/svg";
  const count = data.station.length;
  const last = data.station[count - 1];
  let track = []; // the line in pixels of the present zoom
  let boxes = []; // what labels must not cover

  const element = (name, properties, parent) => {
    const made = Object.assign(document.createElement(name), properties);
    if (parent) parent.append(made);
    return made;
  };
  const control = (position, node) => {
    const made = L.control({ position });
    made.onAdd = () => {
      L.DomEvent.disableClickPropagation(node);
      L.DomEvent.disableScrollPropagation(node);
      return node;
    };
    return made.addTo(map);
  };

  // ---- along the line ---------------------------------------------------------------------
  function measure() {
    track = data.lat.map((lat, i) => map.project([lat, data.lon[i]]));
  }

  /** Return where a station lies: the piece of the line and the share of it. */
  function locate(station) {
    let low = 0, high = count - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (data.station[middle] <= station) low = middle; else high = middle;
    }
    const length = data.station[high] - data.station[low];
    const share = length > 0 ? Math.min(1, Math.max(0, (station - data.station[low]) / length)) : 0;
    return { low, high, share };
  }
  const between = (values, { low, high, share }) => {
    const a = values[low], b = values[high];
    return a === null || b === null ? null : a + (b - a) * share;
  };
  const pixel = (place) => {
    const a = track[place.low], b = track[place.high];
    return L.point(a.x + (b.x - a.x) * place.share, a.y + (b.y - a.y) * place.share);
  };
  const position = (place) => L.latLng(between(data.lat, place), between(data.lon, place));

  /** Return the way the line runs at a station, as a unit vector of the screen. */
  function heading(station) {
    const reach = last / Math.max(span() / 14, 1);
    const a = pixel(locate(Math.max(0, station - reach)));
    const b = pixel(locate(Math.min(last, station + reach)));
    const length = Math.hypot(b.x - a.x, b.y - a.y) || 1;
    return { x: (b.x - a.x) / length, y: (b.y - a.y) / length };
  }
  function span() {
    let total = 0;
    for (let i = 1; i < count; i++) total += track[i].distanceTo(track[i - 1]);
    return total;
  }

  /** Return the station nearest to a pixel, and how far off the line the pixel is. */
  function nearest(point) {
    let best = { distance: Infinity, station: 0 };
    for (let i = 1; i < count; i++) {
      const a = track[i - 1], b = track[i];
      const dx = b.x - a.x, dy = b.y - a.y;
      const square = dx * dx + dy * dy;
      const along = square ? ((point.x - a.x) * dx + (point.y - a.y) * dy) / square : 0;
      const share = Math.min(1, Math.max(0, along));
      const distance = Math.hypot(a.x + dx * share - point.x, a.y + dy * share - point.y);
      if (distance < best.distance) {
        const length = data.station[i] - data.station[i - 1];
        best = { distance, station: data.station[i - 1] + length * share };
      }
    }
    return best;
  }

  // ---- room on the screen -----------------------------------------------------------------
  const box = (x, y, width, height) =>
    ({ left: x - width / 2, right: x + width / 2, top: y - height / 2, bottom: y + height / 2 });
  const meets = (a, b) =>
    a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  function onLine(area) {
    for (let i = 1; i < count; i++) {
      const a = track[i - 1], b = track[i];
      if (Math.max(a.x, b.x) < area.left || Math.min(a.x, b.x) > area.right) continue;
      if (Math.max(a.y, b.y) < area.top || Math.min(a.y, b.y) > area.bottom) continue;
      const steps = Math.max(1, Math.ceil(a.distanceTo(b) / 5));
      for (let k = 0; k <= steps; k++) {
        const x = a.x + ((b.x - a.x) * k) / steps, y = a.y + ((b.y - a.y) * k) / steps;
        if (x > area.left && x < area.right && y > area.top && y < area.bottom) return true;
      }
    }
    return false;
  }

  // ---- signs, each led off the line by a thin leader --------------------------------------
  const leaders = L.layerGroup().addTo(map);
  const TURNS = [0, 30, -30, 60, -60, 90, -90, 180, 150, -150];
  const REACHES = [30, 46, 64, 84];
  const NEAR = 46; // the farthest that a leader goes where signs stand closer than CROWDED
  const CROWDED = 14;

  /** Return free room for a sign, or null: it then shrinks onto its place until one zooms in. */
  function placeFor(at, way, farthest) {
    for (const reach of REACHES.filter((one) => one <= farthest)) {
      for (const turn of TURNS) {
        const angle = (turn * Math.PI) / 180;
        const x = at.x + reach * (way.x * Math.cos(angle) - way.y * Math.sin(angle));
        const y = at.y + reach * (way.x * Math.sin(angle) + way.y * Math.cos(angle));
        const area = box(x, y, 32, 32);
        if (!boxes.some((other) => meets(area, other)) && !onLine(area)) return { x, y, area };
      }
    }
    return null;
  }

  const shownSigns = () => layers.filter((layer) => map.hasLayer(layer)).flatMap((layer) =>
    layer.getLayers().map((marker) => ({ marker, side: layer.leatlineSide })));

  /** Keep the room of the signs that stay where they are: those of the two ends. */
  function keepEnds() {
    boxes = shownSigns().filter((sign) => sign.side === 0).map((sign) => {
      const at = map.project(sign.marker.getLatLng());
      return box(at.x, at.y, 32, 32);
    });
  }

  function placeSigns() {
    leaders.clearLayers();
    const signs = shownSigns().filter((one) => one.side !== 0);
    const farthest = span() / signs.length < CROWDED ? NEAR : Infinity;
    for (const sign of signs) {
      const at = map.project(sign.marker.getLatLng());
      const way = heading(nearest(at).station);
      const place = placeFor(at, { x: -way.y * sign.side, y: way.x * sign.side }, farthest);
      const dx = place ? Math.round(place.x - at.x) : 0;
      const dy = place ? Math.round(place.y - at.y) : 0;
      const icon = sign.marker.options.icon.options;
      icon.iconAnchor = [15 - dx, 15 - dy];
      icon.popupAnchor = [dx, dy - 15];
      const node = sign.marker.getElement();
      node.style.marginLeft = `${dx - 15}px`;
      node.style.marginTop = `${dy - 15}px`;
      node.classList.toggle("small", !place);
      if (!place) continue;
      boxes.push(place.area);
      const ends = [sign.marker.getLatLng(), map.unproject([place.x, place.y])];
      const still = { interactive: false };
      L.polyline(ends, { ...still, color: "#fff", weight: 4, opacity: 0.8 }).addTo(leaders);
      L.polyline(ends, { ...still, color: "#111", weight: 1.5 }).addTo(leaders);
      L.circleMarker(ends[0], {
        ...still, radius: 4, color: "#111", weight: 1.5, fillColor: "#fff", fillOpacity: 1,
      }).addTo(leaders);
    }
  }

  // ---- station marks ----------------------------------------------------------------------
  const marks = L.layerGroup().addTo(map);
  const STEPS = [1, 2, 5].flatMap((lead) => [1, 10, 100, 1000, 10000].map((power) => lead * power))
    .sort((a, b) => a - b);
  let names = []; // station labels of the present zoom

  function stepOfNames() {
    const perUnit = span() / last;
    return STEPS.find((one) => one >= 10 && one * perUnit >= 74) || STEPS[STEPS.length - 1];
  }

  /** Give each named station its place close to the line; signs then keep clear of it. */
  function placeNames() {
    names = [];
    const step = stepOfNames();
    for (let number = 1; number * step <= last; number++) {
      const station = number * step;
      const at = pixel(locate(station)), way = heading(station);
      const words = `${station} ${data.stationUnit}`;
      const width = 8 + 6.6 * words.length;
      const reach = 13 + (width / 2) * Math.abs(way.y) + 6 * Math.abs(way.x);
      for (const side of [1, -1]) {
        const x = at.x - way.y * side * reach, y = at.y + way.x * side * reach;
        const area = box(x, y, width, 15);
        if (boxes.some((other) => meets(area, other)) || onLine(area)) continue;
        boxes.push(area);
        names.push({ words, x, y, width, area });
        break;
      }
    }
  }

  function drawMarks() {
    marks.clearLayers();
    const view = map.getPixelBounds();
    const room = {
      left: view.min.x - 60, right: view.max.x + 60, top: view.min.y - 60, bottom: view.max.y + 60,
    };
    const step = stepOfNames();
    const fine = String(step).startsWith("2") ? step / 4 : step / 5;
    const lines = [];
    for (let number = 0; number * fine <= last + 1e-9; number++) {
      const at = pixel(locate(number * fine));
      if (!meets(box(at.x, at.y, 1, 1), room)) continue;
      const way = heading(number * fine);
      const half = number % Math.round(step / fine) === 0 ? 9 : 6;
      const dx = -way.y * half, dy = way.x * half;
      lines.push([[at.x + dx, at.y + dy], [at.x - dx, at.y - dy]].map((end) => map.unproject(end)));
    }
    L.polyline(lines, { color: "#111", weight: 1.5, interactive: false }).addTo(marks);
    for (const { words, x, y, width } of names.filter((name) => meets(name.area, room))) {
      const label = element("span", { textContent: words });
      const icon = L.divIcon({ className: "station", html: label, iconSize: [width, 14] });
      L.marker(map.unproject([x, y]), { icon, interactive: false, keyboard: false }).addTo(marks);
    }
  }

  // ---- readout ----------------------------------------------------------------------------
  const board = element("div", { className: "board readout" });
  const title = element("b", {}, board);
  const slider = element("input", {
    type: "range", min: 0, max: last, step: "any", value: 0, ariaLabel: "Station along the line",
  }, board);
  const table = element("table", {}, board);
  const cells = data.rows.map((row) => {
    const line = element("tr", {}, table);
    element("th", { textContent: row.label }, line);
    return element("td", {}, line);
  });
  const finger = L.circleMarker([data.lat[0], data.lon[0]], {
    radius: 7, color: "#111", weight: 2.5, fillColor: "#F0E442", fillOpacity: 1, interactive: false,
  });

  function read(station) {
    const place = locate(station);
    title.textContent = `Station ${station.toFixed(1)} ${data.stationUnit}`;
    data.rows.forEach((row, i) => {
      const value = between(row.values, place);
      cells[i].textContent = value === null ? "–" : `${value.toFixed(row.digits)} ${row.unit}`;
    });
    slider.value = station;
    finger.setLatLng(position(place)).addTo(map);
  }
  slider.addEventListener("input", () => read(Number(slider.value)));
  const follow = (limit) => (event) => {
    const found = nearest(map.project(event.latlng));
    if (found.distance <= limit) read(found.station);
  };
  map.on("mousemove", follow(24));
  map.on("click", follow(40));

  // ---- set up -----------------------------------------------------------------------------
  const north = element("div", { className: "board north", title: "North is up" });
  const arrow = document.createElementNS(SVG, "svg");
  for (const [name, value] of [["width", 20], ["height", 34], ["viewBox", "0 0 20 34"]]) {
    arrow.setAttribute(name, value);
  }
  const needle = document.createElementNS(SVG, "path");
  needle.setAttribute("d", "M10 0L17 21L10 16.5L3 21Z");
  const letter = document.createElementNS(SVG, "text");
  for (const [name, value] of [["x", 10], ["y", 33], ["text-anchor", "middle"], ["font-size", 12]]) {
    letter.setAttribute(name, value);
  }
  letter.textContent = "N";
  arrow.append(needle, letter);
  north.append(arrow);

  /** Return the lower corner that hides less of the line. */
  function freeCorner() {
    if (narrow.matches) return "bottomleft";
    const view = map.getPixelBounds();
    const hidden = (side) => track.filter((point) => point.y > view.max.y - 215 && side(point)).length;
    const left = hidden((point) => point.x < view.min.x + 260);
    return left > hidden((point) => point.x > view.max.x - 260) ? "bottomright" : "bottomleft";
  }

  function redraw() {
    measure();
    keepEnds();
    placeNames();
    placeSigns();
    drawMarks();
  }
  const panel = document.getElementById("panel");
  const narrow = window.matchMedia("(max-width: 760px)");
  if (narrow.matches) panel.open = false;
  panel.addEventListener("toggle", () => {
    if (!narrow.matches) panel.open = true;
    map.invalidateSize();
  });
  map.invalidateSize();
  // Room for signs led off the line; on a narrow screen the readout has the lower edge.
  map.fitBounds(data.bounds, {
    paddingTopLeft: narrow.matches ? [58, 66] : [76, 70],
    paddingBottomRight: narrow.matches ? [58, 180] : [80, 90], animate: false,
  });
  measure();
  control("topright", north);
  L.control.scale({ metric: !data.imperial, imperial: data.imperial, maxWidth: 140, position: "bottomright" })
    .addTo(map);
  control(freeCorner(), board);
  redraw();
  read(0);
  map.on("zoomend overlayadd overlayremove", redraw);
  map.on("moveend", drawMarks);
}
