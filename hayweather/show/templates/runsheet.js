document.querySelectorAll(".cards").forEach(cards => {
  const all = [...cards.children];
  const move = () => {
    const now = Date.now();
    const past = card => Math.max(card.dataset.past, +card.dataset.first + 60000);
    const left = all.filter(card => past(card) > now);
    const running = left.length && left[0].dataset.first <= now;
    all.forEach(card => {
      const place = left.indexOf(card) + (running ? 0 : 1);
      card.hidden = left.length ? !left.includes(card) || place > 1 && left.indexOf(card) > 0
        : card !== all[all.length - 1];
      const label = card.querySelector(".label");
      label.textContent = left.includes(card) ? cards.dataset[place ? "next" : "now"] : cards.dataset.over;
    });
  };
  move();
  setInterval(move, 20000);
});
