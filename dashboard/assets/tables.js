/* Dates in tables, which hold them as 2026-08-12 so that they sort: shown in the order chosen. */
(function () {
  const functions = (window.dashAgGridFunctions = window.dashAgGridFunctions || {});
  functions.orchardDates = (value, [order, months]) => {
    if (value === null || value === undefined || order === "year first") return value ?? "";
    const dates = /(?<![\w'“-])(?<!example )(?<!Example: )(\d{4})-(\d\d)-(\d\d)(?:T(\d\d:\d\d)(?::00)?)?(?![\w-])/g;
    return String(value).replace(dates, (all, year, month, day, time) => {
      const name = months[month - 1];
      if (!name) return all;
      const shown = order === "month first" ? `${name} ${Number(day)}, ${year}` : `${Number(day)} ${name} ${year}`;
      return time ? `${shown} ${time}` : shown;
    });
  };
})();
