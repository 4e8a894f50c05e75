// @ts-check
/** What the service sends, as far as the pages read it. Field names are held against its OpenAPI. */

/**
 * @typedef {{plan_length_m: number, pipe_length_m: number, ground_length_m: number,
 *   intake_level_m: number, outlet_level_m: number, gross_head_m: number,
 *   static_pressure_kpa: number, max_static_pressure_kpa: number, max_static_station_m: number,
 *   trench_volume_m3: number, vent_count: number, drain_count: number, flow_m3_s?: number,
 *   head_loss_m?: number, net_head_m?: number, power_kw?: number, velocity_m_s?: number,
 *   efficiency?: number, flowing_pressure_kpa?: number, flow_capacity_m3_s?: number,
 *   gross_head_off_m?: number | null, expected_vents?: {mean: number, sd: number} | null}} Summary
 */
/**
 * @typedef {{id: string, station_m: number, lon: number, lat: number, ground_m: number,
 *   pipe_m: number, static_head_m: number, rule: string, need: "must" | "level" | "advise", reason: string,
 *   kind: string, size_mm: number | null, depth_m: number, probability: number | null}} Fitting
 */
/** @typedef {{code: string, severity: "note" | "warning" | "fault", message: string, station_m: number | null, places_m: number[]}} Warning */
/** @typedef {{faults: number, warnings: number, notes: number, failed_checks: number,
 *   unsettled_checks: number, open: string[], preliminary: boolean, out_of_reach: string | null, out_of_reach_code: string | null}} Verdict */
/**
 * @typedef {{vent_id: string, station_m: number, lon: number, lat: number, from_m: number,
 *   to_m: number, extra_depth_m: number, depth_m: number, extra_volume_m3: number, drain_id: string | null, pits: number}} Offer
 */
/** @typedef {{from_m: number, to_m: number, clearance_m: number}} Span */
/** @typedef {{from_m: number, to_m: number, max_depth_m: number | null, cover_m: number | null}} Limit */
/**
 * @typedef {{outside_diameter_m: number, cover_m: number, max_depth_m: number, bedding_m: number,
 *   volume_m3: number, width_m: number, deepest_m: number, spans: Span[],
 *   limits: Limit[], offers: Offer[], break_price_m3: number, grade_choices: GradeChoice[]}} Trench
 */
/**
 * @typedef {{name: string | null, break_price_m3: number, grades: number, volume_m3: number,
 *   deepest_m: number}} GradeChoice
 */
/**
 * @typedef {{local_sigma_m: number | null, source: "stated" | "class" | "step" | "none", rough: boolean,
 *   depths: Depth[]}} Doubt
 */
/** @typedef {{max_depth_m: number, summits: number, expected: number | null, extra_volume_m3: number, price: number | null}} Depth */
/** @typedef {{station_m: number, lon: number, lat: number, reason: string, settles: string[], gain: number}} Level */
/**
 * @typedef {{from_m: number, to_m: number, length_m: number, id: string | null, label: string,
 *   material: string, outside_diameter_m: number, inside_diameter_m: number, wall_m: number,
 *   rating_kpa: number | null, derated_rating_kpa: number | null, mass_kg_m: number | null}} Pipe
 */
/** @typedef {{flow_m3_s: number, head_loss_m: number, friction_m: number, local_m: number, capacity_m3_s: number, efficiency: number}} Flow */
/** @typedef {{temperature_c: number, density_kg_m3: number, gravity_m_s2: number}} Water */
/** @typedef {{id: string, text: string}} Caution */
/**
 * What the page keeps of an answer: everything but the stations as sent, the stations as columns.
 * @typedef {{summary: Summary, verdict: Verdict, cost: Cost | null, energy?: Energy, grades: Grade[], crossings: Crossing[], doubt: Doubt, levels_to_shoot: Level[], vents: Fitting[], drains: Fitting[], warnings: Warning[],
 *   trench: Trench, water: Water, pipes: Pipe[], flow: Flow | null, cautions: Caution[], assumptions: string[], pressures?: boolean, fitted?: boolean,
 *   col: Record<string, Float32Array | Float64Array>, n: number}} Model
 */
/** @typedef {{energy_kwh: number | null, worth_per_year: number | null, capacity_factor: number | null}} Energy */
/** @typedef {{from_m: number, to_m: number, grade: number}} Grade */
/**
 * @typedef {{id: string, station_m: number, to_m: number, kind: string, name: string, angle_deg: number | null, length_m: number,
 *   asks: string[], relation: "inside" | "crosses" | "touches" | "along", consent: string | null, cover_m: number, lon: number, lat: number}} Crossing
 */
/** @typedef {{total: number, currency: string, date: string | null, not_priced: string[]}} Cost */
/** @typedef {{west: number, south: number, east: number, north: number}} Box */
/** @typedef {{id: string, name: string, created: string, facts: Record<string, any>, bounds: Box | null}} Terrain */
/** @typedef {{id: string, name: string, created: string, updated: string, revision: number, etag: string, terrains: string[]}} StudyRow */

export {};
