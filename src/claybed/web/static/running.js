'use strict';
// What is under way on this device: kept here, so it is told without the network.
(() => {
  const list = document.getElementById('under-way');
  const found = [];
  try {
    for (let k = 0; k < localStorage.length; k++) {
      const name = localStorage.key(k);
      if (name.startsWith('claybed-pour-')) found.push(JSON.parse(localStorage.getItem(name)));
    }
  } catch { return; }
  const under = found.filter((kept) => kept && !kept.finished && kept.at > 0);
  if (!under.length) return;
  list.replaceChildren(...under.map((kept) => {
    const row = document.createElement('li'), link = document.createElement('a'), name = document.createElement('b'), where = document.createElement('span');
    link.className = 'rowlink';
    link.href = kept.address || `/pour/${kept.mold}`;
    name.textContent = kept.name;
    where.className = 'quiet';
    where.textContent = kept.title;
    link.append(name, where);
    row.append(link);
    return row;
  }));
})();
