// The scripts of pages are plain ones that share a few names; see theme/assets.
import js from "@eslint/js";
import globals from "globals";

const ours = Object.fromEntries(["say", ...["Triage", "Said", "Rank", "Stem", "Reader", "Quantity", "Swap", "Schedule", "Progress", "Drill", "Drills", "Bands", "Formulas", "Shard", "Root", "Words", "Methods", "Model"]
  .map((name) => "benchlore" + name)].map((name) => [name, "writable"]));

export default [
  js.configs.recommended,
  {
    languageOptions: { sourceType: "script", ecmaVersion: 2024, globals: { ...globals.browser, ...ours } },
    rules: { "no-redeclare": ["error", { builtinGlobals: false }], "no-unused-vars": ["error", { vars: "local" }] },
  },
];
