// @ts-check
/** What the settings say of the page's fields; written by api/settings_page.py. */

/**
 * @typedef {{label: string, hint: string, example: string, without: string, choices?: string[],
 *   dimension?: import("./units.js").Dimension | "", ends?: number[], takes?: string}} Field
 */

/** @type {Record<string, Field>} */
export const FIELDS = {
  "terrain.unit": {"label": "Heights in", "hint": "", "example": "ft", "without": "the file's own, else metres, with a note", "choices": ["m", "ft", "US survey foot"]},
  "terrain.crs": {"label": "Coordinate system", "hint": "", "example": "EPSG:32628", "without": "the file's own, else an error"},
  "terrain.rmse": {"label": "Error of heights", "hint": "root mean square", "example": "0.8 m", "without": "usual for the kind of data, else not known: summits are not judged", "dimension": "length", "ends": [0.001, 100.0], "takes": "1 mm to 100 m"},
  "terrain.vertical_datum": {"label": "Heights measured from", "hint": "", "example": "local levelling", "without": "the file's own, else not known"},
  "terrain.bridge": {"label": "Gaps bridged up to", "hint": "", "example": "60 m", "without": "none: a gap is an error", "dimension": "length", "ends": [0.1, 20000.0], "takes": "0.1 m to 20 km"},
  "intake.level": {"label": "Water at the intake", "hint": "", "example": "412.6 m", "without": "ground at the start of the line plus the next key", "dimension": "length", "ends": [-500.0, 9000.0], "takes": "-500 m to 9000 m"},
  "intake.level_above_ground": {"label": "Water above the ground there", "hint": "", "example": "0.4 m", "without": "0 m", "dimension": "length", "ends": [-50.0, 200.0], "takes": "-50 m to 200 m"},
  "intake.loss": {"label": "Loss at entrance", "hint": "K", "example": "0.8", "without": "0.5, a sharp-edged entrance", "dimension": "", "ends": [0.0, 100.0], "takes": "0 to 100"},
  "outlet.level": {"label": "Outlet centreline", "hint": "", "example": "331.2 m", "without": "as the pipe is laid", "dimension": "length", "ends": [-500.0, 9000.0], "takes": "-500 m to 9000 m"},
  "outlet.level_above_ground": {"label": "Outlet above the ground there", "hint": "", "example": "0.5 m", "without": "as the pipe is laid", "dimension": "length", "ends": [-50.0, 200.0], "takes": "-50 m to 200 m"},
  "trench.cover": {"label": "Least cover", "hint": "ground to crown", "example": "0.9 m", "without": "0.46, 0.61 or 0.76 m by pipe size", "dimension": "length", "ends": [0.0, 20.0], "takes": "0 m to 20 m"},
  "trench.max_depth": {"label": "Greatest depth", "hint": "to trench bottom", "example": "1.8 m", "without": "1.2 m", "dimension": "length", "ends": [0.1, 30.0], "takes": "0.1 m to 30 m"},
  "trench.bedding": {"label": "Bedding", "hint": "under the pipe", "example": "0.15 m", "without": "0.1 m", "dimension": "length", "ends": [0.0, 2.0], "takes": "0 m to 2 m"},
  "trench.min_grade": {"label": "Least rising grade", "hint": "rise over length", "example": "0.003", "without": "0.002", "dimension": "", "ends": [0.0, 1.0], "takes": "0 to 1"},
  "flow.design": {"label": "Design flow", "hint": "", "example": "18 L/s", "without": "none: no flowing pressures, net head or power", "dimension": "flow", "ends": [1e-05, 100.0], "takes": "0.01 L/s to 100 m3/s"},
  "flow.temperature": {"label": "Water temperature", "hint": "", "example": "8 degC", "without": "10 degC", "dimension": "temperature", "ends": [0.0, 40.0], "takes": "0 degC to 40 degC"},
  "flow.local_loss": {"label": "Other local losses", "hint": "sum of K", "example": "1.2", "without": "from its own bends and changes of bore", "dimension": "", "ends": [0.0, 10000.0], "takes": "0 to 10000"},
  "turbine.kind": {"label": "Kind", "hint": "", "example": "crossflow", "without": "any, with a note", "choices": ["pelton", "turgo", "crossflow", "francis", "pump as turbine"]},
  "turbine.efficiency": {"label": "Water to wire", "hint": "", "example": "64 %", "without": "by kind, with a note; 50 % when unknown", "dimension": "ratio", "ends": [0.01, 1.0], "takes": "1 % to 100 %"},
};
