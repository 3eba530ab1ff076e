// The form itself: what is seen, what is tapped. Text from anywhere goes in as text only.

import * as kept from "./kept.js";
import { sender } from "./sending.js";

const METERS = { dmm: "10 MΩ voltmeter", loz: "Low-impedance voltmeter", clamp: "Clamp ammeter", pen: "Proximity detector" };
// Not made from the above by lower case: it would turn megohms into milliohms.
const METERS_IN_WORDS = { dmm: "10 MΩ voltmeter", loz: "low-impedance voltmeter", clamp: "clamp ammeter", pen: "proximity detector" };
const STATES = { disconnected: "Disconnected", idle: "Connected", running: "Running" };
const STATES_IN_FULL = { disconnected: "disconnected", idle: "connected, not started", running: "running" };
const SIGNALS = { signals: "Signals", silent: "Silent" };
const NAMES = { L1: "L1", L2: "L2", N: "neutral", G: "ground" };
const PAIRS = ["L1-L2", "L1-N", "L2-N", "N-G", "L1-G", "L2-G"];
const WHERE = { dmm: PAIRS, loz: PAIRS, clamp: ["L1", "L2", "N"], pen: ["L1", "L2", "N", "G"] };
const SEEN = {
  breaker_found_tripped: "Breaker found tripped",
  ground_fault_breaker_tripped: "Ground-fault breaker tripped",
  other_circuits_live: "Other circuits live",
  other_circuits_dead: "Other circuits dead",
  lights_brighten_and_dim: "Lights brighten and dim",
  scorched_or_discoloured: "Scorched or discolored",
  works_when_moved: "Works when moved",
};
const UNIT = { dmm: "V", loz: "V", clamp: "A", pen: "" };
// Before the service has answered; its answers bring these and whatever else applies.
const ALWAYS = [
  { rank: 1, severity: "WARNING", title: "Prove the tester on a known live source, before and after", text: "Prove each tester on a known live source right before the test and right after it." },
  { rank: 2, severity: "DANGER", title: "Treat every conductor as live", text: "Treat every conductor as live, the neutral and the frame with it, until it is proven otherwise." },
  { rank: 3, severity: "NOTICE", title: "Licensed work: local codes decide who does it", text: "Work on the supply is licensed work in many places. Local codes decide." },
];
// At the top: every danger, and the first of all that is ranked.
const TOP_RANKS = 2;

const $ = (id) => document.getElementById(id);
let state = kept.read();
// Index of the reading that is being changed; null: a new one is entered.
let editing = null;
// Id of the note that was asked to be forgotten once: the second tap does it.
let doubted = null;

// ---- showing

function make(tag, text, attributes = {}) {
  const element = document.createElement(tag);
  if (text !== undefined) element.textContent = text;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

function fill(list, items, build) {
  list.replaceChildren(...items.map(build));
  list.hidden = items.length === 0;
}

function chips(container, name, options, chosen) {
  const build = ([value, text]) => {
    const label = make("label");
    const input = make("input", undefined, { type: "radio", name, value });
    input.checked = value === chosen;
    label.append(input, make("span", text));
    return label;
  };
  container.replaceChildren(...Object.entries(options).map(build));
}

const chosen = (name) => document.querySelector(`input[name="${name}"]:checked`)?.value;
const pairLetters = (at) => at.replace("-", "–");
const pairWords = (at) => at.split("-").map((name) => NAMES[name]).join(" to ");

function takenWords(taken) {
  const value = taken.meter === "pen" ? SIGNALS[taken.value].toLowerCase() : withUnit(taken);
  return `${pairWords(taken.at)}: ${value}, ${METERS_IN_WORDS[taken.meter]}, ${STATES_IN_FULL[taken.state]}`;
}

const withUnit = (taken) => (/^[-+\d.]+$/.test(taken.value) ? `${taken.value} ${UNIT[taken.meter]}` : taken.value);

function show() {
  const visit = state.visit;
  $("visit").hidden = !visit;
  $("begin").hidden = Boolean(visit);
  showNotes();
  if (visit) showVisit(visit);
}

function showNotes() {
  $("notes").hidden = state.finished.length === 0 || Boolean(state.visit);
  fill($("notes-list"), state.finished, (item) => {
    const card = make("li");
    const row = make("div", undefined, { class: "row" });
    card.append(make("strong", item.visit.reference), row);
    if (item.step === "ready") {
      row.append(make("a", "Open the note", { class: "open", href: kept.noteAddress(item.id) }));
    } else if (item.step === "waiting") {
      row.append(make("span", "Kept here; the note comes when the service answers."));
    } else {
      row.append(make("span", "The service refused a reading."), button("Mend", () => mend(item)));
    }
    if (item.step !== "refused") row.append(button("Reopen", () => mend(item), `Reopen ${item.visit.reference}`));
    const sure = doubted === item.id;
    row.append(button(sure ? "Forget for good" : "Forget", () => (sure ? forget(item) : doubt(item)), `Forget ${item.visit.reference}${sure ? " for good" : ""}`));
    if (sure) row.append(button("Keep", () => doubt(null), `Keep ${item.visit.reference}`));
    return card;
  });
}

function showVisit(visit) {
  const answer = visit.answer;
  const marks = visit.marks ?? [];
  $("visit-title").textContent = visit.form.reference;
  $("headline").textContent = headline(visit);
  const behind = isBehind(visit);
  $("behind").hidden = !behind;
  $("behind").textContent = "Not answered yet: this does not count your latest change.";
  $("answer").classList.toggle("stale", behind);
  const general = marks.filter((mark) => mark.reading === null).map((mark) => mark.detail);
  $("action").textContent = general.length ? general.join(" ") : marks.length ? "" : (answer?.action ?? "");
  const cautions = answer?.cautions ?? ALWAYS;
  const first = cautions.filter((caution) => caution.severity === "DANGER" || caution.rank <= TOP_RANKS);
  fill($("dangers"), first, (caution) => make("li", `${caution.severity} ${caution.title}`));
  fill($("cautions"), cautions, (caution) => {
    const item = make("li", undefined, { class: caution.severity.toLowerCase() });
    item.append(make("strong", `${caution.severity} `), caution.text);
    if (caution.because) item.append(make("p", `Why here: ${caution.because}`, { class: "quiet" }));
    return item;
  });
  // A suggestion that does not count the latest reading may be the one just taken: held back.
  showNext(marks.length || behind ? null : answer?.next);
  fill($("taken"), visit.form.readings, (taken, index) => {
    const row = make("div", undefined, { class: "row" });
    const item = make("li");
    row.append(make("span", takenWords(taken)), button("Edit", () => edit(index), `Edit reading ${index + 1}`));
    row.append(button("Remove", () => remove(index), `Remove reading ${index + 1}`));
    item.append(row);
    for (const mark of marks.filter((each) => each.reading === index)) item.append(make("p", mark.detail, { class: "wrong" }));
    return item;
  });
  $("none-taken").hidden = visit.form.readings.length > 0;
  fill($("limits"), answer && visit.form.readings.length ? answer.limits : [], (text) => make("li", text));
  $("hidden-things").hidden = $("limits").hidden;
}

const isBehind = (visit) => Boolean(visit.answer) && visit.answered !== visit.revision;

function headline(visit) {
  if (visit.marks?.length) return "Please mend what is marked.";
  return visit.answer?.headline ?? "No answer yet. Treat every conductor as live.";
}

function showNext(next) {
  $("next").hidden = !next;
  if (!next) return;
  $("next-words").textContent = next.words;
  $("next-why").textContent = next.why;
  fill($("next-steps"), next.steps ?? [], (text) => make("li", text));
  fill($("next-expect"), next.expect ?? [], (text) => make("li", text));
  $("next-expected").hidden = $("next-expect").hidden;
  fill($("next-hazards"), next.hazards, (text) => make("li", text));
  $("take").hidden = !next.take || !state.visit.form.meters.includes(next.take.meter);
}

function button(text, act, label) {
  const element = make("button", text, { type: "button", ...(label ? { "aria-label": label } : {}) });
  element.addEventListener("click", act);
  return element;
}

function showChoices() {
  const meters = Object.fromEntries(state.visit.form.meters.map((name) => [name, METERS[name]]));
  chips($("meter-choices"), "meter", meters, state.visit.form.meters[0]);
  chips($("state-choices"), "state", STATES, "disconnected");
  chips($("signal-choices"), "signal", SIGNALS, "silent");
  const seen = state.visit.form.observations ?? [];
  $("seen-choices").replaceChildren(...Object.entries(SEEN).map(([value, text]) => {
    const label = make("label");
    const input = make("input", undefined, { type: "checkbox", name: "seen", value });
    input.checked = seen.includes(value);
    label.append(input, make("span", text));
    return label;
  }));
  leave();
  showConductors();
}

function showConductors(at) {
  const meter = chosen("meter");
  const where = WHERE[meter];
  const held = at ?? chosen("at");
  chips($("at-choices"), "at", Object.fromEntries(where.map((each) => [each, pairLetters(each)])), where.includes(held) ? held : where[0]);
  $("at-legend").textContent = where === PAIRS ? "Between (N neutral, G ground)" : meter === "pen" ? "At (N neutral, G ground)" : "Around (N neutral)";
  $("unit").textContent = UNIT[meter];
  $("number").hidden = meter === "pen";
  $("signal").hidden = meter !== "pen";
  complain("");
}

function complain(text) {
  $("value-wrong").textContent = text;
  $("value").setAttribute("aria-invalid", String(Boolean(text)));
}

// ---- acting

function change(edit) {
  edit(state.visit);
  state.visit.revision += 1;
  state.visit.marks = null;
  keep();
  send();
}

function keep() {
  kept.write(state);
  show();
}

function begin(event) {
  event.preventDefault();
  const data = new FormData($("begin-form"));
  const meters = data.getAll("meters");
  $("meters-wrong").hidden = meters.length > 0;
  if (!meters.length) {
    document.querySelector('input[name="meters"]').focus();
    return;
  }
  const field = (name) => String(data.get(name)).trim();
  const form = { reference: field("reference"), meters, readings: [] };
  for (const name of ["system", "ground", "frame", "loz_impedance"]) form[name] = field(name);
  state.visit = { id: crypto.randomUUID(), form, revision: 1, answered: 0, answer: null, marks: null };
  showChoices();
  keep();
  $("visit-title").focus();
  send();
}

function add(event) {
  event.preventDefault();
  const meter = chosen("meter");
  const value = meter === "pen" ? chosen("signal") : $("value").value.trim();
  if (!value) {
    complain("Enter what the meter shows.");
    $("value").focus();
    return;
  }
  complain("");
  $("value").value = "";
  const taken = { meter, at: chosen("at"), state: chosen("state"), value };
  const index = editing;
  leave();
  change((visit) => (index === null ? visit.form.readings.push(taken) : visit.form.readings.splice(index, 1, taken)));
  // To where the answer comes: the next reading is named there.
  $("visit-title").focus();
}

function set(name, value) {
  const input = document.querySelector(`input[name="${name}"][value="${value}"]`);
  if (input) input.checked = true;
}

function edit(index) {
  const { meter, at, state: load, value } = state.visit.form.readings[index];
  set("meter", meter);
  showConductors(at);
  set("state", load);
  if (meter === "pen") set("signal", value);
  else $("value").value = value;
  editing = index;
  $("add").textContent = `Change reading ${index + 1}`;
  $("leave").hidden = false;
  const marked = (state.visit.marks ?? []).find((mark) => mark.reading === index);
  complain(marked?.detail ?? "");
  (meter === "pen" ? document.querySelector('input[name="signal"]:checked') : $("value")).focus();
}

function leave() {
  editing = null;
  $("add").textContent = "Add reading";
  $("leave").hidden = true;
  $("value").value = "";
  complain("");
}

function observe() {
  const seen = [...document.querySelectorAll('input[name="seen"]:checked')].map((input) => input.value);
  change((visit) => (visit.form.observations = seen));
}

function remove(index) {
  leave();
  change((visit) => visit.form.readings.splice(index, 1));
  $("taken-title").focus();
}

function take() {
  const { meter, at, state: load } = state.visit.answer.next.take;
  set("meter", meter);
  showConductors(at);
  set("state", load);
  (meter === "pen" ? document.querySelector('input[name="signal"]') : $("value")).focus();
}

function finish() {
  const { id, form } = state.visit;
  state.finished.unshift({ id, visit: form, step: "waiting" });
  state.visit = null;
  $("begin-form").elements.reference.value = "";
  keep();
  $("notes-title").focus();
  send();
}

function doubt(item) {
  doubted = item?.id ?? null;
  showNotes();
  $("notes-title").focus();
}

function forget(item) {
  state.finished = state.finished.filter((each) => each.id !== item.id);
  kept.forgetNote(item.id);
  keep();
  (state.finished.length ? $("notes-title") : $("begin-title")).focus();
}

function mend(item) {
  state.finished = state.finished.filter((each) => each.id !== item.id);
  // Its note is of the visit as it was: the next finish makes another.
  kept.forgetNote(item.id);
  state.visit = { id: item.id, form: item.visit, revision: 1, answered: 0, answer: null, marks: item.marks ?? null };
  showChoices();
  keep();
  $("visit-title").focus();
  send();
}

// ---- sending

function work() {
  const finished = state.finished.find((item) => item.step === "waiting");
  if (finished) return noteWork(finished.id, finished.visit);
  const visit = state.visit;
  return visit && !visit.marks && visit.answered !== visit.revision ? answerWork(visit) : null;
}

// By id, not by object: another tab may have changed the state meanwhile.
function noteWork(id, form) {
  const settle = (edit) => {
    const item = state.finished.find((each) => each.id === id);
    if (item) edit(item);
    keep();
  };
  return {
    path: "/note",
    visit: form,
    done: async (response) => {
      if (state.finished.some((item) => item.id === id)) await kept.keepNote(id, response);
      settle((item) => (item.step = "ready"));
    },
    refused: (marks) => settle((item) => Object.assign(item, { step: "refused", marks })),
  };
}

function answerWork({ id, revision, form }) {
  const settle = (edit) => {
    if (state.visit?.id === id) edit(state.visit);
    keep();
  };
  return {
    path: "/answer",
    visit: form,
    done: async (response) => {
      const answer = await response.json();
      settle((visit) => Object.assign(visit, { answer, answered: revision }));
    },
    refused: (marks) => settle((visit) => visit.revision === revision && Object.assign(visit, { marks })),
  };
}

const TOLD = { sent: "Everything is sent.", sending: "Sending …", waiting: "Not sent: no answer. Kept here, and tried again." };

const send = sender(work, (step) => {
  const empty = !state.visit && !state.finished.length;
  const text = kept.keeps ? (empty ? "" : TOLD[step]) : "This browser keeps nothing: do not close the page before the note is here.";
  if ($("sent").textContent !== text) $("sent").textContent = text;
});

$("begin-form").addEventListener("submit", begin);
$("reading").addEventListener("submit", add);
$("meter-choices").addEventListener("change", () => showConductors());
$("take").addEventListener("click", take);
$("leave").addEventListener("click", leave);
$("seen-choices").addEventListener("change", observe);
$("finish").addEventListener("click", finish);
kept.onChangeElsewhere(() => {
  const before = state.visit?.id;
  state = kept.read();
  if (state.visit && state.visit.id !== before) showChoices();
  show();
});
if (state.visit) showChoices();
show();
send();
navigator.serviceWorker?.register("/worker.js");
