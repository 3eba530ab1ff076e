// An invented visit by the client that openapi-generator makes for fetch. Prints what the tests compare.
import { AssessmentsApi, Configuration, ResponseError, type AssessmentRequest } from "./client/index.js";

declare const process: { argv: string[] };

const api = new AssessmentsApi(new Configuration({ basePath: process.argv[2] }));

const visit: AssessmentRequest = {
  reference: "INVENTED/cabin-12",
  meters: { loz: { kind: "voltmeter", inputImpedance: "3 kohm" } },
  observations: ["other_circuits_live"],
  readings: [
    { kind: "voltage", between: ["L1", "L2"], value: "247 V", meter: "loz", loadState: "disconnected", id: "legs" },
    { kind: "voltage", between: ["L1", "N"], value: 7, meter: "loz", loadState: "disconnected" },
    { kind: "voltage", between: ["L2", "N"], value: "7 V", meter: "loz", loadState: "disconnected" },
  ],
};

const whole = await api.assess({ assessmentRequest: visit });
const screen = await api.assessForScreen({ assessmentRequest: visit });
let refused: unknown;
try {
  await api.assess({
    assessmentRequest: {
      ...visit,
      readings: [
        { kind: "voltage", between: ["L1", "L2"], value: "5 A", meter: "loz", loadState: "disconnected" },
      ],
    },
  });
} catch (error) {
  if (!(error instanceof ResponseError)) throw error;
  const problem = await error.response.json();
  refused = problem.errors.map((fault: { pointer: string; code: string }) => [fault.pointer, fault.code]);
}

console.log(
  JSON.stringify({
    fault: whole.finding.fault,
    conductor: whole.finding.conductor,
    determination: whole.determination,
    first_id: whole.evidence[0]?.id,
    headline: screen.headline,
    refused,
  }),
);
