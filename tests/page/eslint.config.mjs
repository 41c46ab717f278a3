// What the page's scripts are held to; what names are known is TypeScript's to say (tsconfig.json).
// From the repository's root: `eslint --config tests/page/eslint.config.mjs backing/page`.

const never = [
  "array-callback-return", "consistent-return", "constructor-super", "default-case-last",
  "eqeqeq", "for-direction", "getter-return", "no-alert", "no-async-promise-executor",
  "no-class-assign", "no-compare-neg-zero", "no-cond-assign", "no-const-assign",
  "no-constant-binary-expression", "no-control-regex", "no-debugger", "no-dupe-args",
  "no-dupe-class-members", "no-dupe-else-if", "no-dupe-keys", "no-duplicate-case",
  "no-duplicate-imports", "no-else-return", "no-empty", "no-empty-pattern", "no-eval",
  "no-ex-assign", "no-extra-boolean-cast", "no-fallthrough", "no-func-assign",
  "no-global-assign", "no-implicit-coercion", "no-implied-eval", "no-import-assign",
  "no-invalid-regexp", "no-irregular-whitespace", "no-lonely-if", "no-loss-of-precision",
  "no-new-func", "no-new-wrappers", "no-param-reassign", "no-prototype-builtins",
  "no-redeclare", "no-return-assign", "no-script-url", "no-self-assign", "no-self-compare",
  "no-sequences", "no-setter-return", "no-shadow", "no-shadow-restricted-names",
  "no-sparse-arrays", "no-this-before-super", "no-throw-literal", "no-unmodified-loop-condition",
  "no-unreachable", "no-unsafe-finally", "no-unsafe-negation", "no-unsafe-optional-chaining",
  "no-unused-expressions", "no-unused-vars", "no-use-before-define", "no-useless-catch",
  "no-useless-concat", "no-useless-escape", "no-useless-return", "no-var", "object-shorthand",
  "prefer-const", "prefer-template", "require-yield", "use-isnan", "valid-typeof", "yoda",
];

export default [
  {
    files: ["**/*.js"],
    languageOptions: { ecmaVersion: 2023, sourceType: "module" },
    linterOptions: { reportUnusedDisableDirectives: "error" },
    rules: {
      ...Object.fromEntries(never.map((rule) => [rule, "error"])),
      "no-use-before-define": ["error", { functions: false }],
      "max-lines": ["error", 320],
      "complexity": ["error", 16],
    },
  },
];
