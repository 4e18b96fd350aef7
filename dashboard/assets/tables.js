/* Dates in tables, which hold them as 2026-08-12 so that they sort: shown in the order chosen. */
(function () {
  const functions = (window.dashAgGridFunctions = window.dashAgGridFunctions || {});
  functions.orchardDates = (value, [order, months]) => {
    if (value === null || value === undefined || order === "year first") return value ?? "";
    return String(value).replace(/(?<![\w-])(\d{4})-(\d\d)-(\d\d)(?![\w-])/g, (all, year, month, day) => {
      const name = months[month - 1];
      if (!name) return all;
      return order === "month first" ? `${name} ${Number(day)}, ${year}` : `${Number(day)} ${name} ${year}`;
    });
  };
})();
