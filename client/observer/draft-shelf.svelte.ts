/**
 * Answers that are not a report yet: points asked so far, figures being typed, the moment the hands were wet. One drawer, kept
 * for this tab only, so that a reload in the middle of a pre-check loses nothing and a stranger finds nothing later. Whatever
 * the drawer was for, another page's key empties it.
 */
export interface Drawer {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
  removeItem(key: string): void;
}

const drawerKey = 'anteroom.tablet.draft';
interface Kept {
  key: string;
  data: unknown;
}

export class DraftShelf {
  private readonly drawer: Drawer;
  #kept = $state.raw<Kept | undefined>(undefined);

  constructor(drawer: Drawer) {
    this.drawer = drawer;
    this.#kept = parse(drawer.getItem(drawerKey));
  }

  read<Data>(key: string, empty: Data): Data {
    return this.#kept?.key === key ? (this.#kept.data as Data) : empty;
  }

  write(key: string, data: unknown): void {
    this.#kept = { key, data };
    this.drawer.setItem(drawerKey, JSON.stringify(this.#kept));
  }

  clear(): void {
    this.#kept = undefined;
    this.drawer.removeItem(drawerKey);
  }
}

function parse(text: string | null): Kept | undefined {
  if (text === null) return undefined;
  try {
    return JSON.parse(text) as Kept;
  } catch {
    return undefined;
  }
}
