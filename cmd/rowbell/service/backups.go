package service

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/agefile"
)

// AllBackups lists the backups of the records in their own folder and in that of the nightly backups, the newest file
// first and shrunken ones last: nightly ones, those by hand and rescued ones, encrypted or not, if their names begin as
// the name of the records does.
func AllBackups(c config.Config) []string {
	folders := []string{filepath.Dir(c.DB)}
	if c.Backup != nil && filepath.Clean(c.Backup.Folder) != folders[0] {
		folders = append(folders, c.Backup.Folder)
	}
	type backup struct {
		path     string
		at       int64
		shrunken bool // such a backup is the last that one should restore
	}
	var list []backup
	head, tail, _ := strings.Cut(BackupName(c.DB, "\x00"), "\x00")
	for _, folder := range folders {
		entries, _ := os.ReadDir(folder) // a missing folder has no backups
		for _, e := range entries {
			path := filepath.Join(folder, e.Name())
			info, err := e.Info()
			if err == nil && info.Mode().IsRegular() && strings.HasPrefix(e.Name(), head) &&
				strings.HasSuffix(strings.TrimSuffix(e.Name(), agefile.Suffix), tail) && store.IsBackup(path) {
				list = append(list, backup{path, info.ModTime().UnixNano(), strings.Contains(e.Name(), shrunkenMark)})
			}
		}
	}
	slices.SortFunc(list, func(a, b backup) int {
		if a.shrunken != b.shrunken {
			return map[bool]int{true: 1, false: -1}[a.shrunken]
		}
		return cmp.Or(cmp.Compare(b.at, a.at), strings.Compare(b.path, a.path))
	})
	paths := make([]string, len(list))
	for i, b := range list {
		paths[i] = b.path
	}
	return paths
}
