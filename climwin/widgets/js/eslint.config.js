import js from "@eslint/js";
import globals from "globals";

export default [
  { ignores: ["bundled/"] },
  js.configs.recommended,
  {
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      complexity: ["error", 12],
      curly: ["error", "multi-line"],
      eqeqeq: "error",
      "no-shadow": "error",
      "no-unused-expressions": "error",
      "no-use-before-define": ["error", { functions: false, variables: false }],
      "no-var": "error",
      "object-shorthand": "error",
      "prefer-const": "error",
      "prefer-template": "error",
    },
  },
  { files: ["src/**"], languageOptions: { globals: globals.browser } },
  { files: ["*.js", "test/**"], languageOptions: { globals: globals.node } },
];
