import { defineConfig } from 'eslint/config';
import svelte from 'eslint-plugin-svelte';
import ts from 'typescript-eslint';

export default defineConfig(
  { ignores: ['dist/**', 'coverage/**', 'node_modules/**', '*.config.*', '**/*.mjs', 'client/svelte.config.js'] },
  ...ts.configs.recommendedTypeChecked,
  ...svelte.configs.recommended,
  {
    languageOptions: {
      parserOptions: { projectService: true, extraFileExtensions: ['.svelte'], tsconfigRootDir: import.meta.dirname },
    },
  },
  { files: ['**/*.svelte', '**/*.svelte.ts'], languageOptions: { parserOptions: { parser: ts.parser } } },
  {
    rules: {
      eqeqeq: 'error',
      'no-debugger': 'error',
      // Off: its autofix deletes XState's `types: {} as {...}` and silently turns every guard and action into `any`.
      '@typescript-eslint/no-unnecessary-type-assertion': 'off',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      // Off: a false alarm on `$state.raw(new Map())`.
      'svelte/prefer-svelte-reactivity': 'off',
    },
  },
  {
    // The pure core: time, chance and identity come in with the report or the fact, never from the machine it runs on.
    files: ['machines/**/*.ts'],
    rules: {
      'no-console': 'error',
      'no-restricted-globals': [
        'error',
        'setTimeout',
        'setInterval',
        'setImmediate',
        'queueMicrotask',
        'fetch',
        'process',
        'crypto',
        'performance',
        'window',
        'document',
      ],
      'no-restricted-syntax': [
        'error',
        {
          selector: "CallExpression[callee.object.name='Date'][callee.property.name='now']",
          message: 'Time comes in with the event.',
        },
        { selector: "NewExpression[callee.name='Date'][arguments.length=0]", message: 'Time comes in with the event.' },
        {
          selector: "CallExpression[callee.object.name='Math'][callee.property.name='random']",
          message: 'Chance comes in with the event.',
        },
        {
          selector: "Property[key.name='after'][value.type='ObjectExpression']",
          message: 'Timers are not resumed after a restore: deadlines are facts from the watch.',
        },
      ],
    },
  },
);
