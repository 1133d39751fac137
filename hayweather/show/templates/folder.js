(() => {
  const age = document.querySelector(".age");
  const words = age.dataset;
  const said = age.textContent;
  const show = () => {
    const parts = said ? [said] : [];
    if (words.made) {
      const minutes = Math.max(0, Math.floor((Date.now() - words.made) / 60000));
      parts.push(minutes < 120 ? words.minutes.replace("%", minutes)
        : minutes < 2880 ? words.hours.replace("%", Math.floor(minutes / 60))
        : words.days.replace("%", Math.floor(minutes / 1440)));
      const over = Date.now() > words.until;
      age.classList.toggle("mark", over);
      if (over) parts.push(words.over);
    }
    if (!navigator.onLine) parts.push(words.away);
    age.textContent = parts.join(". ");
  };
  show();
  setInterval(show, 20000);
  addEventListener("online", show);
  addEventListener("offline", show);
  if (location.protocol.startsWith("http")) {
    document.querySelectorAll("a.subscribe").forEach(link => {
      link.href = link.href.replace(/^https?:/, "webcal:");
    });
    const workers = [...document.querySelectorAll("[data-worker]")].map(each => each.dataset.worker);
    if ("serviceWorker" in navigator) {
      ["sw.js", ...workers].forEach(each => navigator.serviceWorker.register(each).catch(() => {}));
    }
  }
})();
