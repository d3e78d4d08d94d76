// What outlives a reload: each tab has a place of its own, and a new tab goes on with what was kept last.

/** Keep the first of some documents that there is room for: they are given from the whole to the least. */
export function keep(name, ...documents) {
  for (const storage of [() => sessionStorage, () => localStorage]) {
    for (const each of documents) {
      try {
        storage().setItem(name, JSON.stringify(each));
        break;
      } catch {
        // no room, or none allowed: keep less
      }
    }
  }
}

export function kept(name) {
  for (const storage of [() => sessionStorage, () => localStorage]) {
    try {
      const found = JSON.parse(storage().getItem(name));
      if (found) return found;
    } catch {
      // not allowed, or not ours
    }
  }
  return {};
}
