'use strict';
// Says, before anything is sent, what will be made of the photos chosen, or why nothing can be.
(() => {
  const field = document.getElementById('files'), told = document.getElementById('files-say'), usual = told.textContent;
  field.addEventListener('change', () => {
    const count = field.files.length, mb = [...field.files].reduce((sum, file) => sum + file.size, 0) / 1048576;
    let says = usual, wrong = '';
    if (count === 1) says = 'One photo: taken as turned.';
    else if (count === 2) says = 'Two photos: the first is the front, the second the side.';
    else if (count >= 8 && count <= 36) says = `${count} photos: the hull of their outlines.`;
    else if (count) wrong = `${count} photos make no object: choose one, two, or 8 to 36 from all round.`;
    if (mb > Number(field.dataset.most)) wrong = `These photos are ${Math.ceil(mb)} MB together, and ${field.dataset.most} MB are taken. Save them smaller, at 12 megapixels or so.`;
    told.textContent = wrong || says;
    field.setCustomValidity(wrong);
  });
})();
