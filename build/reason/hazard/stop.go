package hazard

// Stop comes before every check of a device that shows a danger.
const Stop = "Do not power it. Cut its supply where that needs no touch of anything wet, hot or live, and keep it away from what burns. A cell that is hot, hisses, smokes or vents is not touched: leave, close the door and call the fire service from outside. Only a cold and quiet one goes outdoors, in dry sand; none is ever charged, pressed or pierced. Then only what needs no power, unplugged and discharged."
