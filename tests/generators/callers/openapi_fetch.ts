// An invented visit by the types of openapi-typescript and the client openapi-fetch. Prints what the tests compare.
import createClient from "openapi-fetch";
import type { components, paths } from "./feedproof.js";

declare const process: { argv: string[] };

const client = createClient<paths>({ baseUrl: process.argv[2] });

const readings: components["schemas"]["Reading"][] = [
  { kind: "voltage", between: ["L1", "L2"], value: "247 V", meter: "loz", load_state: "disconnected", id: "legs" },
  { kind: "voltage", between: ["L1", "N"], value: 7, meter: "loz", load_state: "disconnected" },
  { kind: "voltage", between: ["L2", "N"], value: "7 V", meter: "loz", load_state: "disconnected" },
];
const visit: components["schemas"]["AssessmentRequest"] = {
  reference: "INVENTED/cabin-12",
  meters: { loz: { kind: "voltmeter", input_impedance: "3 kohm" } },
  observations: ["other_circuits_live"],
  readings,
};

const whole = await client.POST("/v1/assessments", { body: visit });
if (whole.data === undefined) throw new Error(JSON.stringify(whole.error));
const screen = await client.POST("/v1/assessments/screen", { body: visit });
const note = await client.POST("/v1/assessments/note", {
  body: visit,
  headers: { Accept: "text/markdown" },
  parseAs: "text",
});
const refused = await client.POST("/v1/assessments", {
  body: { ...visit, readings: [{ ...readings[0], value: "5 A" } as components["schemas"]["VoltageReading"]] },
});
const problem: components["schemas"]["Problem"] | undefined = refused.error;
const word: string | undefined = whole.data.finding.conductor ?? undefined;

console.log(
  JSON.stringify({
    fault: whole.data.finding.fault,
    conductor: word,
    determination: whole.data.determination,
    first_id: whole.data.evidence[0]?.id,
    headline: screen.data?.headline,
    note: typeof note.data === "string" && note.data.startsWith("# "),
    refused: problem?.errors?.map((fault) => [fault.pointer, fault.code]),
  }),
);
