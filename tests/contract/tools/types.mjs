// TypeScript types of the published document: `node types.mjs OPENAPI.json TYPES.d.ts`.
// Words of answers are plain text there, since a later service may say others; those known today stand beside, by list.
// (A union of the words with any other text would not pass through the types of openapi-fetch.)
import { readFileSync, writeFileSync } from "node:fs";
import openapiTS, { astToString } from "openapi-typescript";

const [source, target] = process.argv.slice(2);
const document = JSON.parse(readFileSync(source, "utf8"));
const HEAD = `/**
 * Types of the feedproof service, made from openapi.json by openapi-typescript; not to be edited.
 * With openapi-fetch: createClient<paths>({ baseUrl }).
 */

`;
const lists = Object.entries(document.components.schemas)
  .filter(([, schema]) => "x-known-values" in schema)
  .map(([name, schema]) => `    ${name}: ${schema["x-known-values"].map((word) => JSON.stringify(word)).join(" | ")};`);
const TAIL = `
/** Words of answers that are known today. A later service may answer with others: always have an "else". */
export interface KnownWords {
${lists.join("\n")}
}
`;
writeFileSync(target, HEAD + astToString(await openapiTS(document)) + TAIL);
