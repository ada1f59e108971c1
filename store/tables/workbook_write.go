package tables

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"earstone/programme/record"
)

// maxCellSigns is how many signs a cell of a workbook can hold, by the format.
const maxCellSigns = 32767

// sheetDigits is how many digits a number of a workbook keeps.
const sheetDigits = 15

// writeWorkbook writes a programme as one workbook: a sheet a table, and one that stands
// for programme.json.
func writeWorkbook(to io.Writer, book *record.Book, counts Counts) (err error) {
	file := excelize.NewFile()
	defer func() {
		if closing := file.Close(); err == nil {
			err = closing
		}
	}()
	if err := file.SetSheetName("Sheet1", settingsSheet); err != nil {
		return fmt.Errorf("naming a sheet: %w", err)
	}
	if err := writeSettingsSheet(file, book); err != nil {
		return err
	}
	for _, table := range grids(book, counts) {
		if _, err := file.NewSheet(table.name); err != nil {
			return fmt.Errorf("making the sheet %s: %w", table.name, err)
		}
		if err := writeSheet(file, table); err != nil {
			return fmt.Errorf("writing the sheet %s: %w", table.name, err)
		}
	}
	_, err = file.WriteTo(to)
	return err
}

// writeSettingsSheet writes each key of the settings with its value as JSON.
func writeSettingsSheet(file *excelize.File, book *record.Book) error {
	text, err := SettingsJSON(book.Settings)
	if err != nil {
		return err
	}
	out, err := file.NewStreamWriter(settingsSheet)
	if err != nil {
		return fmt.Errorf("writing the settings: %w", err)
	}
	if err := out.SetRow("A1", []any{"key", "value"}); err != nil {
		return fmt.Errorf("writing the settings: %w", err)
	}
	var values map[string]json.RawMessage
	if err := json.Unmarshal(text, &values); err != nil {
		return fmt.Errorf("writing the settings: %w", err)
	}
	row := 1
	for _, key := range settingKeys {
		value, there := values[key]
		if !there {
			continue
		}
		row++
		if err := out.SetRow("A"+strconv.Itoa(row), []any{key, string(value)}); err != nil {
			return fmt.Errorf("writing the setting %s: %w", key, err)
		}
	}
	return out.Flush()
}

func writeSheet(file *excelize.File, table grid) error {
	out, err := file.NewStreamWriter(table.name)
	if err != nil {
		return err
	}
	row, cells := 1, make([]any, len(table.columns))
	for i, c := range table.columns {
		cells[i] = string(guarded([]byte(c.name)))
	}
	if err := out.SetRow("A1", cells); err != nil {
		return err
	}
	err = table.rows(func(texts [][]byte) error {
		if row++; row > maxSheetRows {
			return fmt.Errorf("a sheet holds %d rows and no more: take the form csv or parquet", maxSheetRows)
		}
		for i, text := range texts {
			if cells[i], err = sheetCell(table.columns[i], text); err != nil {
				return fmt.Errorf("row %d, %s: %w", row, table.columns[i].name, err)
			}
		}
		return out.SetRow("A"+strconv.Itoa(row), cells)
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

// sheetCell is a cell as the library takes it: a number, a text that no spreadsheet takes
// for a formula, or nothing.
func sheetCell(c sheetColumn, text []byte) (any, error) {
	switch {
	case len(text) == 0:
		return nil, nil
	case (c.kind == "number" || c.kind == "integer") && len(text) <= sheetDigits:
		return strconv.ParseFloat(string(text), 64)
	case c.kind == "number" || c.kind == "integer": // as a text it keeps the rest of its digits
		return string(text), nil
	case utf8.RuneCount(text) >= maxCellSigns: // one is left for the guard
		return nil, fmt.Errorf("a cell of a workbook holds %d signs and no more: take the form csv or parquet", maxCellSigns)
	}
	return string(guarded(text)), nil
}
