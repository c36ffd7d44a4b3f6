import type { Reporter, TestCase, TestModule, SerializedError } from 'vitest/node';

/** Ends the run with `N passed, N failed`, which is what a machine reading the output looks for. */
export default class ClosingLineReporter implements Reporter {
  private passed = 0;
  private failed = 0;
  private skipped = 0;

  onTestCaseResult(test: TestCase): void {
    const { state } = test.result();
    if (state === 'passed') this.passed += 1;
    else if (state === 'failed') this.failed += 1;
    else this.skipped += 1;
  }

  onTestRunEnd(modules: readonly TestModule[], errors: readonly SerializedError[]): void {
    // A file that does not even load has no test that failed; it counts as one all the same.
    const broken = modules.filter((module) => module.errors().length > 0).length;
    this.failed += broken + errors.length;
    const line = `${this.passed} passed, ${this.failed} failed${this.skipped > 0 ? `, ${this.skipped} skipped` : ''}`;
    process.on('exit', () => process.stdout.write(`\n${line}\n`));
  }
}
