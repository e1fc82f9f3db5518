'use strict';
// The tour is shown until this device has put it away.
(() => {
  const tour = document.getElementById('tour');
  const seen = () => { try { return localStorage.getItem('claybed-tour'); } catch { return null; } };
  if (seen()) return;
  tour.hidden = false;
  document.getElementById('tour-done').addEventListener('click', () => {
    tour.hidden = true;
    try { localStorage.setItem('claybed-tour', 'put away'); } catch { /* it comes again next time */ }
  });
})();
