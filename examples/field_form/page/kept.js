// What is kept on the phone: the visit under way, finished visits, and their notes.
// It outlives a closed page, an empty battery and a basement without coverage.

const KEY = "field-form";
const NOTES = "field-form-notes";

/** Whether this browser keeps anything; if not, the page says so. */
export let keeps = true;

/** The state: `{visit, finished}`; a new one where there is none, or where it cannot be read. */
export function read() {
  try {
    const state = JSON.parse(localStorage.getItem(KEY) ?? "null");
    if (state && Array.isArray(state.finished)) return state;
  } catch {
    keeps = false;
  }
  return { visit: null, finished: [] };
}

/** Keep the state. */
export function write(state) {
  try {
    localStorage.setItem(KEY, JSON.stringify(state));
    keeps = true;
  } catch {
    keeps = false;
  }
}

/** Call back when another tab has changed the state. */
export function onChangeElsewhere(callback) {
  addEventListener("storage", (event) => {
    if (event.key === KEY || event.key === null) callback();
  });
}

/** The address under which the worker gives a note that is kept here. */
export const noteAddress = (id) => `/notes/${id}`;

/** Keep a note as it came, its headers with it: its own policy goes on holding. */
export async function keepNote(id, response) {
  const notes = await caches.open(NOTES);
  await notes.put(noteAddress(id), response);
}

/** Forget a note. */
export async function forgetNote(id) {
  const notes = await caches.open(NOTES);
  await notes.delete(noteAddress(id));
}
