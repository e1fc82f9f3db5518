'use strict';
// Reads the packed shapes that the server sends: a header as JSON, then arrays that are used as they come.
const ClaybedShape = (() => {
  const KINDS = { u1: [Uint8Array, 1], u2: [Uint16Array, 2], u4: [Uint32Array, 4], f4: [Float32Array, 4] };

  function unpack(buffer) {
    const length = new DataView(buffer).getUint32(0, true);
    const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
    let at = 4 + length;
    for (const entry of header.arrays) {
      const [Kind, size] = KINDS[entry.kind];
      header[entry.name] = new Kind(buffer, at, entry.count);
      at += entry.count * size;
      at += (4 - at % 4) % 4;
    }
    return header;
  }

  async function fetched(address, signal) {
    const answer = await fetch(address, { signal });
    if (answer.status === 204) return null;
    if (!answer.ok) {
      const told = await answer.json().catch(() => ({}));
      throw new Error(told.says || 'The studio machine did not answer.');
    }
    return unpack(await answer.arrayBuffer());
  }

  return { unpack, fetched };
})();
