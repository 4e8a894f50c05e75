// @ts-check
/** The service's HTTP face. */

import { named } from "./setting-words.js";
import { spokenIn, t, told } from "./words.js";

/** A problem the service answered with: what is wrong and what to do about it. */
export class Problem extends Error {
  /** @param {{detail?: string, hint?: string, code?: string, status?: number, station_m?: number | null}} body */
  constructor(body) {
    super(told(named([body.detail, body.hint].filter(Boolean).join(" "), t).text) || "The service gave no reason.");
    this.code = body.code ?? "unknown";
    this.status = body.status ?? 0;
    this.station_m = body.station_m ?? null;
  }

  /** Whether the service was not reached at all, or is just starting. */
  get away() {
    return this.status === 0 || this.status === 502 || this.status === 503;
  }
}

/**
 * Send a request and return the whole response, or throw its problem.
 * @param {string} path
 * @param {RequestInit} [options]
 */
async function send(path, options) {
  let response;
  try {
    response = await fetch(path, { ...options, headers: { ...options?.headers, "accept-language": spokenIn() } });
  } catch {
    throw new Problem({ detail: "The service does not answer.", hint: "Is it still running?" });
  }
  if (response.ok) return response;
  const json = response.headers.get("content-type")?.includes("json");
  const body = json ? await response.json() : { detail: response.statusText };
  throw new Problem({ ...body, status: response.status });
}

/**
 * @param {string} path
 * @param {RequestInit} [options]
 * @returns {Promise<any>}
 */
async function call(path, options) {
  const response = await send(path, options);
  const text = await response.text();
  const json = response.headers.get("content-type")?.includes("json");
  return text && json ? JSON.parse(text) : null;
}

/** @param {string} method @param {any} body @param {Record<string, string>} [headers] @returns {RequestInit} */
const json = (method, body, headers = {}) => ({
  method,
  headers: { "content-type": "application/json", ...headers },
  body: JSON.stringify(body),
});

export const health = () => call("/api/health");
export const listTerrains = () => call("/api/terrains");
export const listStudies = () => call("/api/studies");

/** @param {FormData} form */
export const uploadTerrain = (form) => call("/api/terrains?once=true", { method: "POST", body: form });
export const sample = () => call("/api/sample", { method: "POST" });

/** Read a settings file with the text files it names. @param {string} toml @param {Record<string, string>} [files] */
export const readSettings = (toml, files = {}) => call("/api/settings", json("POST", { toml, files }));

/** @param {any} body */
export const createStudy = (body) => call("/api/studies", json("POST", body));

/** @param {string} id */
export const deleteTerrain = (id) => call(`/api/terrains/${id}`, { method: "DELETE" });

/** @param {string} id @param {string} etag */
export const deleteStudy = (id, etag) =>
  call(`/api/studies/${id}`, { method: "DELETE", headers: { "if-match": etag } });

export const listTrash = () => call("/api/trash");
export const emptyTrash = () => call("/api/trash", { method: "DELETE" });

/** @param {string} id */
export const bringBack = (id) => call(`/api/trash/${id}/restore`, { method: "POST" });

/** @param {string} id */
export const removeForGood = (id) => call(`/api/trash/${id}`, { method: "DELETE" });

/** @param {string} id @param {number} [revision] */
export async function getStudy(id, revision) {
  const response = await send(`/api/studies/${id}${revision ? `?revision=${revision}` : ""}`);
  return { study: await response.json(), etag: response.headers.get("etag") ?? "" };
}

/** @param {any} body @param {{id: string, etag: string} | null} over what it replaces, or null */
export async function saveStudy(body, over) {
  const response = over
    ? await send(`/api/studies/${over.id}`, json("PUT", body, { "if-match": over.etag }))
    : await send("/api/studies", json("POST", body));
  return { study: await response.json(), etag: response.headers.get("etag") ?? "" };
}

/**
 * Ask for the line as it is: at rest with surge, class, thrust and the sizes of fittings, which take
 * longer than all the rest; dragged without them; at first look without fittings at all.
 * @param {any} body @param {number} sequence @param {Look} [look]
 */
export async function preview(body, sequence, look = "dragged") {
  const headers = { "x-sequence": String(sequence) };
  const path = `/api/preview?${LOOKS[look]}`;
  const response = await send(path, json("POST", body, headers));
  return response.json();
}

/** @typedef {"rest" | "dragged" | "line"} Look */
const LOOKS = { rest: "form=compact&pressures=true", dragged: "form=compact", line: "form=line" };

/** @param {string} id */
export const revisions = (id) => call(`/api/studies/${id}/revisions`);

/** What crews brought home, and where two devices differ. @param {string} id */
export const crewRecords = (id) => call(`/api/studies/${id}/records`);

/** @param {File} file */
export const importRoute = (file) => sendFile("/api/routes", file);

/** Every pipe of the catalogue tried on a line. @param {any} body as of a preview @param {boolean} sizes */
export const choosePipes = (body, sizes) => call(`/api/pipes?sizes=${sizes}`, json("POST", body));

/** Seek lines between two places. @param {any} body @returns {Promise<any>} the job */
export const startSearch = (body) => call("/api/searches", json("POST", body));

/** Look over all streams of a terrain. @param {any} body @returns {Promise<any>} the job */
export const startScreen = (body) => call("/api/screens", json("POST", body));

/** @param {string} id */
export const job = (id) => call(`/api/jobs/${id}`);

/** @param {string} id */
export const stopJob = (id) => call(`/api/jobs/${id}`, { method: "DELETE" });

/** @param {string} path @param {File} file */
function sendFile(path, file) {
  const form = new FormData();
  form.append("file", file);
  return call(path, { method: "POST", body: form });
}

/** Lines and areas of a file. @param {File} file */
export const layerFile = (file) => sendFile("/api/layers", file);

/** A georeferenced picture, turned for the map. @param {File} file */
export const overlay = (file) => sendFile("/api/overlays", file);

/** @param {string} words */
export const findCrs = (words) => call(`/api/crs?q=${encodeURIComponent(words)}`);

/** @param {string} terrain @param {string} crs */
export const placeOf = (terrain, crs) => call(`/api/terrains/${terrain}/place?crs=${encodeURIComponent(crs)}`);

/** The streams of a terrain as GeoJSON. @param {string} terrain @param {string} [crs] */
export const streams = (terrain, crs) => call(`/api/terrains/${terrain}/streams${crs ? `?crs=${encodeURIComponent(crs)}` : ""}`);

/** What drains to a place. @param {string} terrain @param {[number, number]} at @param {string} [crs] */
export const catchment = (terrain, at, crs) =>
  call(`/api/terrains/${terrain}/catchment`, json("POST", crs ? { at, crs } : { at }));

/** @param {Record<string, string>} query */
export const catalogue = (query) => call(`/api/catalogue?${new URLSearchParams(query)}`);

/** @param {string} key */
export const whereFrom = (key) => call(`/api/where-from?key=${encodeURIComponent(key)}`);
