import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';

/** What the accessibility rules (WCAG 2.2 A and AA, by axe) find wrong on a page: each rule with the places. */
export async function accessibilityProblems(page: Page): Promise<string[]> {
  const { violations } = await new AxeBuilder({ page })
    .withTags(['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'])
    .analyze();
  return violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.target.join(' ')).join(', ')}`);
}
