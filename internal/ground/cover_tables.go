package ground

// entry is a code of a land-cover legend and the classes that it stands for.
type entry struct {
	code uint16
	is   Set
}

// What the codes of a legend stand for; open is assessed and none of them.
const (
	open    Set = 0
	wet     Set = 1 << Water
	trees   Set = 1 << Forest
	builtUp Set = 1 << BuiltUp
)

// worldCover is the legend of ESA WorldCover, 10 m, 2020 and 2021 (WorldCover
// product user manual 2.0, table of classes; from memory). Mangroves are trees
// in the water; wetland with herbs is open.
var worldCover = []entry{
	{10, trees},       // tree cover
	{20, open},        // shrubland
	{30, open},        // grassland
	{40, open},        // cropland
	{50, builtUp},     // built-up
	{60, open},        // bare or sparse vegetation
	{70, open},        // snow and ice
	{80, wet},         // permanent water bodies
	{90, open},        // herbaceous wetland
	{95, trees | wet}, // mangroves
	{100, open},       // moss and lichen
}

// nlcd is the legend of the National Land Cover Database of the United States,
// 30 m (MRLC, class descriptions of 2011 and later; from memory). Developed open
// space (21), gardens and golf courses with up to a fifth built over, is
// built-up, since people are there; woody wetlands are trees. 51 and 72 to 74
// are of Alaska alone.
var nlcd = []entry{
	{11, wet},     // open water
	{12, open},    // perennial ice and snow
	{21, builtUp}, // developed, open space
	{22, builtUp}, // developed, low intensity
	{23, builtUp}, // developed, medium intensity
	{24, builtUp}, // developed, high intensity
	{31, open},    // barren land
	{41, trees},   // deciduous forest
	{42, trees},   // evergreen forest
	{43, trees},   // mixed forest
	{51, open},    // dwarf scrub
	{52, open},    // shrub and scrub
	{71, open},    // grassland and herbaceous
	{72, open},    // sedge and herbaceous
	{73, open},    // lichens
	{74, open},    // moss
	{81, open},    // pasture and hay
	{82, open},    // cultivated crops
	{90, trees},   // woody wetlands
	{95, open},    // emergent herbaceous wetlands
}

// corine is the legend of CORINE land cover, 100 m (European Environment Agency,
// CLC nomenclature of 44 classes; from memory), each class by its code of three
// digits; in rasters it stands by its row, 1 to 44, in this order. All artificial
// surfaces (1xx) are built-up, city parks, mines and sports grounds among them;
// salines and intertidal flats, which are under water half of the time, are
// water.
var corine = []entry{
	{111, builtUp}, {112, builtUp}, // urban fabric, continuous and not
	{121, builtUp}, {122, builtUp}, {123, builtUp}, {124, builtUp}, // works and shops, roads and rails, ports, airports
	{131, builtUp}, {132, builtUp}, {133, builtUp}, // mines, dumps, building sites
	{141, builtUp}, {142, builtUp}, // green urban areas, sport and leisure
	{211, open}, {212, open}, {213, open}, // arable land, dry, irrigated, rice
	{221, open}, {222, trees}, {223, trees}, // vineyards, fruit trees, olive groves
	{231, open},                                         // pastures
	{241, open}, {242, open}, {243, open}, {244, trees}, // mixed crops, agro-forestry last
	{311, trees}, {312, trees}, {313, trees}, // forest, broad-leaved, coniferous, mixed
	{321, open}, {322, open}, {323, open}, {324, trees}, // grass, heath, scrub, woodland in change
	{331, open}, {332, open}, {333, open}, {334, open}, {335, open}, // sand, rock, sparse, burnt, ice
	{411, open}, {412, open}, // inland marshes, peat bogs
	{421, open}, {422, wet}, {423, wet}, // salt marshes, salines, intertidal flats
	{511, wet}, {512, wet}, // water courses, water bodies
	{521, wet}, {522, wet}, {523, wet}, // lagoons, estuaries, sea and ocean
}

// igbp is the legend of the International Geosphere-Biosphere Programme as the
// MODIS land-cover product has it, 500 m (MCD12Q1 user guide, collection 6,
// table of LC_Type1; from memory). Water is 17, in earlier collections 0; 255 is
// unclassified and not in the legend. Savannas with trees over a tenth to six
// tenths of the ground are trees where that is over three tenths (8).
var igbp = []entry{
	{0, wet},                                                   // water, earlier
	{1, trees}, {2, trees}, {3, trees}, {4, trees}, {5, trees}, // forests: needle or broad leaf, evergreen or not, mixed
	{6, open}, {7, open}, // shrublands, closed and open
	{8, trees},                                    // woody savannas
	{9, open}, {10, open}, {11, open}, {12, open}, // savannas, grasslands, permanent wetlands, croplands
	{13, builtUp},                      // urban and built-up
	{14, open}, {15, open}, {16, open}, // cropland mosaics, snow and ice, barren
	{17, wet}, // water bodies
}
